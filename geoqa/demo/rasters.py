"""Write the orthomosaic and the elevation raster of an invented site as GeoTIFF."""

from pathlib import Path

import numpy as np
import rasterio
from rasterio.enums import Resampling

from geoqa.demo.mosaic import Products
from geoqa.demo.site import Site

NO_DATA = -9999.0
# Overviews down to about this many pixels on the shorter side.
_SMALLEST_OVERVIEW = 200


def write_orthomosaic(path: Path, site: Site, products: Products) -> None:
    """Write the picture as tiled JPEG in YCbCr with an internal mask and overviews."""
    bands, rows, cols = products.picture.shape
    profile = {
        "driver": "GTiff", "dtype": "uint8", "count": bands, "height": rows, "width": cols,
        "crs": site.crs, "transform": site.transform(site.pixel_m),
        "tiled": True, "blockxsize": 256, "blockysize": 256,
        "compress": "JPEG", "photometric": "YCBCR", "jpeg_quality": site.jpeg_quality,
    }  # fmt: skip
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True, GDAL_NUM_THREADS=1):
        with rasterio.open(path, "w", **profile) as dataset:
            dataset.write(products.picture)
            dataset.write_mask(products.imaged)
        factors = [2**level for level in range(1, 8) if min(rows, cols) >> level >= _SMALLEST_OVERVIEW]
        with (
            rasterio.Env(JPEG_QUALITY_OVERVIEW=site.jpeg_quality),
            rasterio.open(path, "r+") as dataset,
        ):
            dataset.build_overviews(factors, Resampling.average)


def write_surface(path: Path, site: Site, products: Products) -> None:
    """Write the heights as tiled 32-bit floating-point numbers, without loss."""
    heights = np.where(np.isnan(products.surface_m), np.float32(NO_DATA), products.surface_m)
    rows, cols = heights.shape
    profile = {
        "driver": "GTiff", "dtype": "float32", "count": 1, "height": rows, "width": cols,
        "crs": site.crs, "transform": site.transform(site.cell_m), "nodata": NO_DATA,
        "tiled": True, "blockxsize": 256, "blockysize": 256, "compress": "DEFLATE", "predictor": 3,
    }  # fmt: skip
    with rasterio.Env(GDAL_NUM_THREADS=1), rasterio.open(path, "w", **profile) as dataset:
        dataset.write(heights, 1)
