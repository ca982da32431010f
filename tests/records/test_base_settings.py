"""The table [base]: what must be said, and what goes together."""

import pytest

from geoqa.errors import SettingsError
from geoqa.readers.settings import settings_from
from tests.frame.base_scenes import geographic, table


def made(base, tmp_path):
    (tmp_path / "points.csv").write_text("id,easting,northing\nA,1,2\n")
    values = {"points": {"path": "points.csv"}, "targets": {"marks": "points.csv"}, "base": base}
    return settings_from(values, tmp_path, "job.toml").base


def without(key):
    return {name: value for name, value in table().items() if name != key}


@pytest.mark.parametrize(
    ("base", "words"),
    [
        (
            without("products_use"),
            "base.products_use: is missing. .*assumed, precise or independent.*no default",
        ),
        (without("points_use"), "base.points_use: is missing. .*assumed or precise"),
        (without("precise"), r"base.precise: is missing. Add it\."),
        (table(products_use="perhaps"), "base.products_use: “perhaps” is not one of"),
        (table(points_use="independent"), "base.points_use: “independent” is not one of"),
        (table(reference="antenna reference point"), "needs antenna_height_m"),
        (
            table(geographic((9.0, 48.0, 1.0), reference="antenna reference point")),
            "needs antenna_height_m",
        ),
        (table(geographic((9.0, 48.0, 1.0), reference="phase centre")), "base.assumed.reference"),
        (table({"latitude": 48.0, "longitude": 9.0}), "base.assumed: a position is one of"),
        (table({"x": 1.0, "y": 1.0, "z": 1.0, "sinex": "points.csv"}), "base.assumed: a position is one of"),
        (
            table(precise=geographic((9.0, 48.0, 1.0), sigma_m=[1.0, 1.0, 1.0], sigma_95_m=[1.0, 1.0, 1.0])),
            "not both",
        ),
    ],
)
def test_what_is_not_said_or_said_twice_is_a_mistake(base, words, tmp_path):
    with pytest.raises(SettingsError, match=words):
        made(base, tmp_path)


def test_antenna_height_may_stand_for_either_position(tmp_path):
    (base,) = made(table(antenna_height_m=1.8, reference="antenna reference point"), tmp_path)
    assert base.reference == "antenna reference point"
    (base,) = made(
        table(geographic((9.0, 48.0, 1.0), reference="antenna reference point"), antenna_height_m=1.8),
        tmp_path,
    )
    assert base.assumed.reference == "antenna reference point"


def test_several_bases_are_told_apart_by_their_sessions(tmp_path):
    assert len(made([table(session="A"), table(session="B")], tmp_path)) == 2
    with pytest.raises(SettingsError, match="told apart by their session"):
        made([table(session="A"), table()], tmp_path)
