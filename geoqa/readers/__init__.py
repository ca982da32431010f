"""Files in: settings, points, rasters."""
