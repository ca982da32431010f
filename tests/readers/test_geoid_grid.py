"""Any grid of separations becomes a file that PROJ reads, and what is none is refused."""

import re
import tempfile
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from pyproj.transformer import AreaOfInterest
from scipy.io import netcdf_file

from geoqa.errors import FrameError, InputError
from geoqa.frame.geoid import separations_m
from geoqa.readers.geoid_grid import opened_geoid, read_geoid
from geoqa.records.geoid import GeoidGrid
from tests.frame.scenes import survey_of
from tests.geoid_files import GTX_MISSING, plane, write_grid, write_gtx, write_official

FIRST, STEP, SHAPE = (-115.0, 52.0), 0.05, (40, 50)
PLACES = np.array([[-114.07, 51.04], [-114.031, 51.013], [-113.2, 50.4]])
# The plane of `tests.geoid_files`: a bilinear surface meets it exactly.
EXPECTED = -17.0 + 0.5 * (PLACES[:, 0] - FIRST[0]) - 0.3 * (PLACES[:, 1] - FIRST[1])
SITE = AreaOfInterest(-114.1, 50.4, -113.2, 51.1)


def separations(grid: GeoidGrid, places=PLACES):
    survey = survey_of(np.column_stack([places, np.zeros(len(places))]), geographic=True)
    return separations_m(grid, survey, np.asarray(places, float), np.ones(len(places), dtype=bool))


def read(path: Path, places=PLACES, area=SITE):
    with opened_geoid(str(path), area) as grid:
        return separations(grid, places)


def isg(path: Path, nodes) -> Path:
    """Write the format of the International Service for the Geoid, version 1.0, from memory."""
    rows, cols = nodes.shape
    south, east = FIRST[1] - (rows - 1) * STEP, FIRST[0] + (cols - 1) * STEP
    header = [
        "begin_of_head ================================================",
        "model name     : invented",
        "model type     : gravimetric",
        "units          : meters",
        "reference      : GRS80",
        f"lat min        = {south - STEP / 2:.6f}",
        f"lat max        = {FIRST[1] + STEP / 2:.6f}",
        f"lon min        = {FIRST[0] - STEP / 2:.6f}",
        f"lon max        = {east + STEP / 2:.6f}",
        f"delta lat      = {STEP:.6f}",
        f"delta lon      = {STEP:.6f}",
        f"nrows          = {rows}",
        f"ncols          = {cols}",
        "nodata         = -9999.0000",
        "ISG format     = 1.0",
        "end_of_head ==================================================",
    ]
    path.write_text(
        "\n".join([*header, *(" ".join(f"{value:.5f}" for value in row) for row in nodes)]) + "\n"
    )
    return path


def netcdf(path: Path, nodes) -> Path:
    """Write netCDF 3 with coordinate variables, as the CF conventions have it."""
    rows, cols = nodes.shape
    with netcdf_file(str(path), "w") as target:
        target.createDimension("lat", rows)
        target.createDimension("lon", cols)
        axes = {
            "lat": (FIRST[1] - STEP * np.arange(rows), "degrees_north"),
            "lon": (FIRST[0] + STEP * np.arange(cols), "degrees_east"),
        }
        for name, (values, units) in axes.items():
            variable = target.createVariable(name, "f8", (name,))
            variable[:] = values
            variable.units = units
        variable = target.createVariable("geoid", "f4", ("lat", "lon"))
        variable[:] = nodes
        variable.units = "m"
    return path


def files(folder: Path):
    nodes = plane(FIRST, STEP, SHAPE)
    yield write_gtx(folder / "geoid.gtx", FIRST, STEP, nodes)
    yield write_official(folder / "geoid.tif", FIRST, STEP, nodes)
    yield write_grid(folder / "plain.tif", FIRST, STEP, nodes)
    yield write_grid(folder / "geoid.asc", FIRST, STEP, nodes, driver="AAIGrid")
    yield write_grid(folder / "geoid.byn", FIRST, STEP, nodes, driver="BYN", dtype="int32", scale=1e-5)
    yield write_grid(folder / "geoid.img", FIRST, STEP, nodes, driver="HFA")
    yield write_grid(folder / "scaled.tif", FIRST, STEP, nodes, dtype="int32", scale=1e-5, offset=-20.0)
    yield write_gtx(folder / "with a blank.gtx", FIRST, STEP, nodes)
    yield write_gtx(folder / "with, a comma.gtx", FIRST, STEP, nodes)
    yield write_official(folder / "mit Umläuten.tif", FIRST, STEP, nodes)
    yield isg(folder / "geoid.isg", nodes)
    yield netcdf(folder / "geoid.nc", nodes)


def test_every_format_gives_the_same_separations(tmp_path):
    for path in files(tmp_path):
        # Nodes are kept in 0.01 mm where the format holds whole numbers or text.
        assert_allclose(read(path), EXPECTED, rtol=0, atol=2e-5, err_msg=path.name)


def test_proj_reads_the_users_own_file_where_it_can(tmp_path):
    direct = {path.name for path in files(tmp_path) if read_geoid(str(path), SITE).path}
    assert direct == {"geoid.gtx", "geoid.tif", "plain.tif"}


def test_the_temporary_file_is_removed_also_after_an_error(tmp_path, monkeypatch):
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(temporary))
    path = write_gtx(tmp_path / "with a blank.gtx", FIRST, STEP, plane(FIRST, STEP, SHAPE))
    with opened_geoid(str(path), SITE) as grid:
        made = Path(grid.path)
        assert made.is_file()
    assert not made.exists()
    outside = np.array([[0.0, 0.0]])
    with pytest.raises(FrameError):
        read(path, outside)
    assert list(temporary.iterdir()) == []
    assert path.is_file()


def test_a_temporary_folder_that_proj_cannot_read_is_named(tmp_path, monkeypatch):
    path = write_gtx(tmp_path / "with a blank.gtx", FIRST, STEP, plane(FIRST, STEP, SHAPE))
    for name in ("with a blank", "with, comma"):
        (tmp_path / name).mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "with a blank"))
    assert_allclose(read(path), EXPECTED, rtol=0, atol=2e-6)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "with, comma"))
    with pytest.raises(InputError, match=r"with, comma.*TMPDIR"):
        read(path)


def test_a_relative_path_is_read_from_the_current_folder(tmp_path, monkeypatch):
    write_gtx(tmp_path / "own.gtx", FIRST, STEP, plane(FIRST, STEP, SHAPE))
    monkeypatch.chdir(tmp_path)
    assert_allclose(read(Path("own.gtx")), EXPECTED, rtol=0, atol=2e-6)


def test_rows_from_south_to_north_are_turned(tmp_path):
    import rasterio
    from affine import Affine

    nodes = plane(FIRST, STEP, SHAPE)
    south = FIRST[1] - (SHAPE[0] - 1) * STEP
    transform = Affine(STEP, 0, FIRST[0] - STEP / 2, 0, STEP, south - STEP / 2)
    path = tmp_path / "south_up.tif"
    profile = {"driver": "GTiff", "width": 50, "height": 40, "count": 1, "dtype": "float32"}
    with rasterio.open(path, "w", crs="EPSG:4326", transform=transform, **profile) as target:
        target.write(nodes[::-1].astype("float32"), 1)
    assert_allclose(read(path), EXPECTED, rtol=0, atol=2e-6)


@pytest.mark.parametrize("first_longitude", [0.0, -180.0])
@pytest.mark.parametrize("longitude", [-179.99, 179.9, 359.97, 0.02, -0.02, 540.0])
def test_a_grid_around_the_earth_has_no_rim_in_longitude(tmp_path, first_longitude, longitude):
    columns = np.radians(first_longitude + 5.0 * np.arange(72))
    nodes = np.tile(30.0 * np.sin(columns), (9, 1))
    path = write_grid(tmp_path / "world.img", (first_longitude, 20.0), 5.0, nodes, driver="HFA")
    short = (longitude + 180.0) % 360.0 - 180.0
    area = AreaOfInterest(short - 0.01, 1.0, short + 0.01, 2.0)
    # By hand: linear between the two nodes around.
    low = 5.0 * np.floor(longitude / 5.0)
    share = (longitude - low) / 5.0
    expected = 30.0 * ((1 - share) * np.sin(np.radians(low)) + share * np.sin(np.radians(low + 5.0)))
    assert_allclose(read(path, np.array([[longitude, 1.5]]), area), expected, rtol=0, atol=1e-5)


def test_a_grid_in_longitudes_up_to_360_serves_western_ones(tmp_path):
    nodes = plane((245.0, 52.0), STEP, SHAPE)
    for name in ("west.gtx", "with a blank.gtx"):
        path = write_gtx(tmp_path / name, (245.0, 52.0), STEP, nodes)
        assert_allclose(read(path), EXPECTED, rtol=0, atol=2e-6)


def test_a_site_across_the_180th_meridian_is_read_in_one_piece(tmp_path):
    nodes = plane((178.0, -16.0), STEP, (40, 80))
    places = np.array([[179.98, -17.0], [-179.98, -17.0]])
    expected = -17.0 + 0.5 * np.array([1.98, 2.02]) - 0.3 * (-1.0)
    for name in ("fiji.gtx", "fiji, twice.gtx"):
        path = write_gtx(tmp_path / name, (178.0, -16.0), STEP, nodes)
        area = AreaOfInterest(179.9, -17.1, -179.9, -16.9)
        assert_allclose(read(path, places, area), expected, rtol=0, atol=1e-5)


@pytest.mark.parametrize("place", [(-116.0, 51.0), (-112.4, 51.0), (-114.0, 52.3), (-114.0, 49.9)])
def test_a_point_outside_the_grid_is_refused_naming_both(tmp_path, place):
    path = write_gtx(tmp_path / "geoid.gtx", FIRST, STEP, plane(FIRST, STEP, SHAPE))
    area = AreaOfInterest(place[0], place[1], place[0], place[1])
    words = r"points\.csv, line 2: point “P01” lies outside the geoid grid geoid\.gtx, .*-115° to -112\.55°"
    with pytest.raises(FrameError, match=words):
        read(path, np.array([place]), area)


def test_the_rim_of_the_grid_still_counts(tmp_path):
    path = write_gtx(tmp_path / "geoid.gtx", FIRST, STEP, plane(FIRST, STEP, SHAPE))
    corners = np.array([[-115.0, 52.0], [-112.55, 52.0], [-115.0, 50.05], [-112.55, 50.05]])
    expected = -17.0 + 0.5 * (corners[:, 0] + 115.0) - 0.3 * (corners[:, 1] - 52.0)
    assert_allclose(
        read(path, corners, AreaOfInterest(-115, 50.05, -112.55, 52)), expected, rtol=0, atol=1e-5
    )


@pytest.mark.parametrize("name", ["geoid.gtx", "geoid.tif", "copy of geoid.gtx"])
def test_a_node_without_a_value_is_not_averaged_away(tmp_path, name):
    # PROJ leaves the node out and takes the mean of the other three.
    nodes = plane(FIRST, STEP, SHAPE)
    nodes[19, 19] = np.nan
    path = tmp_path / name
    if path.suffix == ".tif":
        write_official(path, FIRST, STEP, nodes, nodata=GTX_MISSING)
    else:
        write_gtx(path, FIRST, STEP, nodes)
    beside = np.array([[FIRST[0] + 19.4 * STEP, FIRST[1] - 18.7 * STEP]])
    with pytest.raises(FrameError, match="point “P01” lies beside a node without a value in the geoid grid"):
        read(path, beside)
    two_further = np.array([[FIRST[0] + 21.4 * STEP, FIRST[1] - 18.7 * STEP]])
    assert np.isfinite(read(path, two_further)).all()


def test_separations_are_asked_for_points_with_a_height_only(tmp_path):
    path = write_gtx(tmp_path / "geoid.gtx", FIRST, STEP, plane(FIRST, STEP, SHAPE))
    places = np.array([[0.0, 0.0], PLACES[0]])
    survey = survey_of(np.column_stack([places, [np.nan, 1.0]]), geographic=True)
    with opened_geoid(str(path), SITE) as grid:
        found = separations_m(grid, survey, places, np.array([False, True]))
    assert np.isnan(found[0])
    assert_allclose(found[1], EXPECTED[0], rtol=0, atol=2e-6)


def spoiled(folder: Path):
    """Yield a file and words of the refusal."""
    import rasterio
    from affine import Affine

    nodes = plane(FIRST, STEP, SHAPE)
    yield (
        write_grid(folder / "dem.tif", FIRST, STEP, nodes + 1045.0),
        r"holds 1\d{3} m around the site: no separation .* not a raster of heights",
    )
    yield write_grid(folder / "utm.tif", FIRST, STEP, nodes, crs="EPSG:32611"), "EPSG:32611.*gdalwarp"
    yield (
        write_grid(folder / "velocity.tif", FIRST, STEP, nodes, tags={"TYPE": "VELOCITY"}),
        r"grid of another kind \(VELOCITY\)",
    )
    yield write_grid(folder / "bare.xyz", (500_000.0, 5e6), 10.0, nodes, driver="XYZ"), "names no CRS"
    with rasterio.open(write_grid(folder / "feet.tif", FIRST, STEP, nodes), "r+") as target:
        target.units = ("foot",)
    yield folder / "feet.tif", "separations are in “foot”"
    with rasterio.open(
        folder / "rotated.tif",
        "w",
        driver="GTiff",
        width=50,
        height=40,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=Affine(STEP, 0.01, -115, 0.01, -STEP, 52),
    ) as target:
        target.write(nodes.astype("float32"), 1)
    yield folder / "rotated.tif", "rows of latitude"
    two = {"driver": "GTiff", "width": 50, "height": 40, "count": 2, "dtype": "float32"}
    transform = Affine(STEP, 0, -115, 0, -STEP, 52)
    rasterio.open(folder / "bands.tif", "w", crs="EPSG:4326", transform=transform, **two).close()
    yield folder / "bands.tif", "has 2 bands"
    (folder / "empty.gtx").write_bytes(b"")
    yield folder / "empty.gtx", "empty"
    (folder / "text.gtx").write_text("no grid at all")
    yield folder / "text.gtx", "cannot open"
    yield folder / "missing.gtx", "no such"


def test_what_is_no_geoid_grid_is_refused_in_one_sentence_that_names_the_file(tmp_path):
    for path, words in spoiled(tmp_path):
        with pytest.raises(InputError, match=words) as caught:
            read(path)
        assert path.name in str(caught.value)
        assert "\n" not in str(caught.value)


def test_a_grid_without_a_crs_is_taken_to_be_in_degrees_and_it_is_said(tmp_path):
    path = write_grid(tmp_path / "geoid.asc", FIRST, STEP, plane(FIRST, STEP, SHAPE), driver="AAIGrid")
    path.with_suffix(".prj").unlink(missing_ok=True)
    grid = read_geoid(str(path), SITE)
    assert grid.crs is None
    assert re.search(r"geoid\.asc names no CRS.*degrees", grid.notes[0])
    assert_allclose(read(path), EXPECTED, rtol=0, atol=2e-5)


def test_a_grid_tells_what_it_leads_from_and_to(tmp_path):
    tags = {"target_crs_epsg_code": "6641"}
    path = write_official(
        tmp_path / "geoid.tif", FIRST, STEP, plane(FIRST, STEP, SHAPE), crs="EPSG:6319", tags=tags
    )
    grid = read_geoid(str(path), SITE)
    assert grid.crs is not None
    assert grid.crs.name == "NAD83(2011)"
    assert grid.vertical is not None
    assert grid.vertical.name == "PRVD02 height"


def test_only_the_part_around_the_site_is_held(tmp_path):
    path = write_gtx(tmp_path / "geoid.gtx", FIRST, STEP, plane(FIRST, STEP, SHAPE))
    grid = read_geoid(str(path), AreaOfInterest(-114.07, 51.04, -114.07, 51.04))
    assert max(grid.nodes.shape) <= 8
    assert grid.area_deg == pytest.approx((-115.0, 50.05, -112.55, 52.0))
