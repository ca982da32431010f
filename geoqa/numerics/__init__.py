"""Plain-array mathematics shared by the rooms above: no domain types, no files."""
