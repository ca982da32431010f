"""A known mark is compared on the true base, whichever position points and products rest on.

Everything is invented. Assumed positions are the true ones less one geocentric vector, computed here
with PROJ alone.
"""

import numpy as np
import pyproj
import pytest

from tests.site import geoqa

BASE_M = np.array([4_146_524.1, 613_138.2, 4_791_517.3])
SHIFT_M = np.array([1.9, -2.4, 1.1])
PLACES = {"CP1": (120.0, -80.0, 10.0), "CP2": (-60.0, 150.0, 35.0), "K1": (300.0, 210.0, -120.0)}
ERROR_M = np.array([0.006, -0.004, 0.011])


def on_grid(xyz):
    lon, lat, height = pyproj.Transformer.from_crs("EPSG:4936", "EPSG:4937", always_xy=True).transform(*xyz)
    east, north = pyproj.Transformer.from_crs("EPSG:4258", "EPSG:25832", always_xy=True).transform(lon, lat)
    return np.array([east, north, height])


def row(name, position, *further):
    return ",".join([name, *(f"{value:.5f}" for value in position), *further])


@pytest.fixture
def job(tmp_path):
    """Return a function that runs a check with one side or the other on the assumed base."""

    def run(points_use, products_use, sigma=""):
        def lacks(use):
            return SHIFT_M if use == "assumed" else np.zeros(3)

        header = "id,easting,northing,height"
        shots = [f"{header},role,fix,sd_east,sd_north,sd_up"]
        marks, known = [header], [f"{header},sd_east,sd_north,sd_up"]
        for name, offset in PLACES.items():
            true = BASE_M + offset
            measured = on_grid(true - lacks(points_use)) + (ERROR_M if name == "K1" else 0)
            role = "mark" if name == "K1" else "check"
            shots.append(row(name, measured, role, "fixed", "0.012", "0.012", "0.020"))
            marks.append(row(name, on_grid(true - lacks(products_use))))
        known.append(row("K1", on_grid(BASE_M + PLACES["K1"]), "0.004", "0.004", "0.006"))
        for name, lines in (("shots", shots), ("marks", marks), ("known", known)):
            (tmp_path / f"{name}.csv").write_text("\n".join(lines) + "\n")
        frame = 'crs = "EPSG:25832"\nframe = "EPSG:4258"\nheight_system = "ellipsoidal"\n'
        assumed, precise = (
            "{{ x = {:.4f}, y = {:.4f}, z = {:.4f} }}".format(*position)
            for position in (BASE_M - SHIFT_M, BASE_M)
        )
        precise = precise.replace(" }", f"{sigma} }}")
        (tmp_path / "job.toml").write_text(
            f'[[points]]\npath = "shots.csv"\n{frame}'
            f'[[points]]\npath = "known.csv"\nknown = true\n{frame}'
            f'[targets]\nmarks = "marks.csv"\n'
            f'[base]\ncrs = "EPSG:4936"\nassumed = {assumed}\nprecise = {precise}\n'
            f'points_use = "{points_use}"\nproducts_use = "{products_use}"\n'
        )
        return geoqa("check", str(tmp_path / "job.toml"), "--out", str(tmp_path / "out"), "--json")

    return run


@pytest.mark.parametrize("products_use", ["assumed", "precise", "independent"])
@pytest.mark.parametrize("points_use", ["assumed", "precise"])
def test_tie_is_that_on_the_true_base_in_every_combination(job, points_use, products_use):
    answer = job(points_use, products_use)
    assert answer.exit_code == 0, answer.stderr
    (tie,) = answer.json["ties"]
    # Coordinates are written to 0.01 mm.
    assert tie["difference_m"] == pytest.approx(ERROR_M.tolist(), abs=5e-5)
    assert tie["verdict"] == "within tolerance"


# 1.96 × √(12² + 4²) and √(20² + 6²) mm; with the base 8², 9² and 20² mm² are added under the roots.
@pytest.mark.parametrize(
    ("sigma", "tolerance_m"),
    [
        ("", [0.02479, 0.02479, 0.04093]),
        (", sigma_m = [0.008, 0.009, 0.02]", [0.02933, 0.03043, 0.05667]),
    ],
)
def test_uncertainty_of_the_base_widens_the_tolerance_of_a_mark(job, sigma, tolerance_m):
    answer = job("assumed", "assumed", sigma)
    assert answer.exit_code == 0, answer.stderr
    assert answer.json["ties"][0]["tolerance_m"] == pytest.approx(tolerance_m, abs=1e-5)
    assert answer.json["points"][0]["sigma_survey_m"] == [0.012, 0.012, 0.020]
