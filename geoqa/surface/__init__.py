"""Heights, slopes and roughness of the elevation raster at points."""
