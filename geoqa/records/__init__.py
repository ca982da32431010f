"""The nouns of the trade as frozen values: no files, no computation beyond what a value is."""
