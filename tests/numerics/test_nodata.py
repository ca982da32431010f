"""The nodata value and what rounding makes of it."""

import numpy as np
import pytest

from geoqa.numerics.nodata import equals_nodata


@pytest.mark.parametrize(
    ("held", "declared"),
    [
        (np.float32(-9999.0), -9999.0),
        # GDAL's default of old and its short text: both stand in files for the same number.
        (np.float32(-3.4028235e38), -3.4028234663852886e38),
        (np.float32(-3.4e38), -3.4e38),
        (np.float32(0.1), 0.1),
        (np.float64(np.float32(-32767.3)), -32767.3),
        (np.float64(np.nan), float("nan")),
        (np.float32(-np.inf), float("-inf")),
        (np.int16(-32768), -32768.0),
        (np.uint8(255), 255.0),
    ],
)
def test_number_is_nodata_up_to_single_precision(held, declared):
    assert equals_nodata(np.array([held]), declared).all()


@pytest.mark.parametrize(
    ("held", "declared"),
    [
        (np.float32(-9998.9), -9999.0),
        (np.float32(1e-30), 0.0),
        (np.float32(312.2), 312.0),
        (np.float32(-3.4e38), -1.7976931348623157e308),
        (np.uint8(0), -9999.0),
        (np.float32(0.0), None),
        (np.float32(np.nan), 0.0),
    ],
)
def test_number_beside_it_is_not(held, declared):
    assert not equals_nodata(np.array([held]), declared).any()
