"""Bring points and products into one frame: operations, units, heights."""
