"""From raw shots to the verdict through the command line; every name and number is invented.

The marks are the truth: the residual of a point is the error of its survey, sign turned.
"""

import csv

import numpy as np
import pytest

from tests.site import geoqa

EAST, NORTH, HEIGHT = 634_200.0, 5_342_700.0, 411.0
PLACES = {f"CP{number}": (37.0 * number, 11.0 * number**2, 0.3 * number) for number in range(1, 6)}
COLUMNS = "id,easting,northing,height,sd_east,sd_north,sd_up,fix,time,antenna_height,role"


def shot(name, offset_m=(0, 0, 0), *, time="", fix="fixed", antenna="1.800", role="check", sigma=0.008):
    east, north, height = np.add(np.add(PLACES[name], offset_m), (EAST, NORTH, HEIGHT))
    place = f"{east:.4f},{north:.4f},{height:.4f},{sigma},{sigma},{2 * sigma}"
    return f"{name},{place},{fix},{time},{antenna},{role}"


@pytest.fixture
def check(tmp_path):
    """Return a function that checks the marks against these shots, and what a run leaves."""
    marks = [f"{name},{e + EAST:.4f},{n + NORTH:.4f},{h + HEIGHT:.4f}" for name, (e, n, h) in PLACES.items()]
    (tmp_path / "marks.csv").write_text("\n".join(["id,easting,northing,height", *marks]) + "\n")

    def run(shots, *, known="", survey="", limit=0.05):
        (tmp_path / "shots.csv").write_text("\n".join([COLUMNS, *shots]) + "\n", encoding="utf-8")
        tables = '[[points]]\npath = "shots.csv"\n'
        if known:
            (tmp_path / "known.csv").write_text(known, encoding="utf-8")
            tables += '[[points]]\npath = "known.csv"\nknown = true\n'
        (tmp_path / "job.toml").write_text(
            f'{tables}[targets]\nmarks = "marks.csv"\n[survey]\n{survey}\n'
            f"[requirement]\nhorizontal_rmse_m = {limit}\nvertical_rmse_m = {limit}\n"
        )
        return geoqa("check", str(tmp_path / "job.toml"), "--out", str(tmp_path / "out"), "--json")

    run.folder = tmp_path / "out"
    return run


def point(answer, name):
    return next(item for item in answer.json["points"] if item["id"] == name)


def morning_and_afternoon():
    """Five shots of a few seconds at each point, twice a day, the afternoon 1 cm farther east."""
    return [
        shot(name, (east + 0.001 * (second - 3), 0, 0), time=f"2026-04-18T{hour}:{index:02d}:{second:02d}Z")
        for index, name in enumerate(PLACES)
        for hour, east in (("09", -0.005), ("15", 0.005))
        for second in range(1, 6)
    ]


def test_shots_become_occupations_and_occupations_points(check):
    answer = check(morning_and_afternoon())
    assert answer.exit_code == 0, answer.stderr
    assert [item["id"] for item in answer.json["points"]] == list(PLACES)
    told = point(answer, "CP1")
    assert told["survey"]["occupations"] == 2
    assert told["survey"]["count"] == 10
    assert told["survey"]["spread_m"] == pytest.approx([0.01, 0, 0], abs=1e-6)
    assert told["survey"]["sigma_reported_m"] == pytest.approx([0.008, 0.008, 0.016])
    # The floor of 10 and 18 mm, and the root of two occupations, not of ten shots.
    assert told["sigma_survey_m"] == pytest.approx([0.00707, 0.00707, 0.01273], abs=1e-5)
    assert told["residual_m"] == pytest.approx([0, 0, 0], abs=1e-6)
    assert told["survey"]["flags"] == []
    sources = [part["sources"] for part in told["survey"]["each_occupation"]]
    assert [len(part) for part in sources] == [5, 5]
    assert sources[0][0] == "shots.csv, line 2"
    assert answer.json["statistics"]["horizontal"]["count"] == 5


def test_sigma_taken_and_stated_stand_in_the_columns(check):
    check(morning_and_afternoon())
    with (check.folder / "points.csv").open(encoding="utf-8", newline="") as file:
        row = next(csv.DictReader(file))
    assert (row["shots"], row["occupations"], row["survey_flags"]) == ("10", "2", "")
    assert float(row["repeat_east_m"]) == pytest.approx(0.01)
    assert float(row["sigma_reported_up_m"]) == pytest.approx(0.016)
    assert float(row["sigma_survey_up_m"]) == pytest.approx(0.01273, abs=1e-5)
    assert "mean of the shots: mean of each occupation" in row["steps"]


def test_the_floor_is_not_taken_off_to_make_the_product_look_better(check):
    # Every product height lies 20 mm above the survey, whose sd is stated as 12 mm: √(20² − 12²) = 16 mm.
    shots = [shot(name, (0, 0, -0.02), time="09:00", sigma=0.006) for name in PLACES]
    answer = check(shots)
    assert point(answer, "CP1")["sigma_survey_m"] == pytest.approx([0.010, 0.010, 0.018])
    vertical = answer.json["accuracy"]["product_alone"]["vertical"]
    assert vertical["rmse_m"] == pytest.approx(0.016, abs=1e-6)


def test_a_point_whose_occupations_disagree_does_not_count(check):
    shots = [shot(name, time="09:00") for name in PLACES]
    shots.append(shot("CP2", (0, 0, 0.35), time="15:00"))
    answer = check(shots)
    assert answer.exit_code == 0, answer.stderr
    told = point(answer, "CP2")
    assert told["horizontal"] == told["vertical"] == {"used": False, "reason": "occupations disagree"}
    assert "shots.csv, line 3: “CP2”: its 2 occupations differ by 0.350 m up (limit 0.1 m)" in answer.stderr
    report = (check.folder / "report.html").read_text("utf-8")
    assert "Survey of the points" in report
    assert "its 2 occupations differ by 0.350 m up" in report


def test_a_point_named_in_the_settings_counts_all_the_same(check):
    shots = [shot(name, time="09:00") for name in PLACES]
    shots.append(shot("CP2", (0, 0, 0.35), time="15:00"))
    answer = check(shots, survey='keep = ["CP2"]')
    assert answer.exit_code == 1
    assert point(answer, "CP2")["vertical"]["used"]
    assert "it counts because survey.keep names it" in answer.stderr
    wrong = check(shots, survey='keep = ["CP9"]')
    assert wrong.exit_code == 2
    assert "survey.keep names “CP9”" in wrong.stderr


def test_limits_and_gap_are_those_of_the_settings(check):
    shots = [shot(name, time="09:00") for name in PLACES]
    shots.append(shot("CP2", (0, 0, 0.04), time="09:20"))
    assert point(check(shots), "CP2")["survey"]["occupations"] == 1
    told = point(check(shots, survey="gap_minutes = 15\nwarn_vertical_m = 0.03"), "CP2")
    assert told["survey"]["occupations"] == 2
    assert told["survey"]["flags"] == ["occupations differ"]
    bare = point(check(shots, survey="floor_horizontal_m = 0\nfloor_vertical_m = 0"), "CP1")
    assert bare["sigma_survey_m"] == pytest.approx([0.008, 0.008, 0.016])


def test_float_shots_among_fixed_ones_do_not_move_a_point(check):
    shots = [shot(name, time="09:00") for name in PLACES]
    shots.append(shot("CP2", (1.2, -0.8, 2.5), time="09:01", fix="float", sigma=0.4))
    told = point(check(shots), "CP2")
    assert told["residual_m"] == pytest.approx([0, 0, 0], abs=1e-6)
    assert told["survey"]["flags"] == ["weak shots left out", "single occupation"]
    assert told["horizontal"]["used"]


def test_a_known_mark_proves_or_refutes_the_absolute_position(check):
    shots = [shot(name, time="09:00") for name in list(PLACES)[:4]]
    shots.append(shot("CP5", (0.006, -0.004, 0.011), time="08:30", role="mark"))
    east, north, height = PLACES["CP5"]
    header = "id,easting,northing,height,sd_east,sd_north,sd_up\n"
    good = f"{header}CP5,{east + EAST},{north + NORTH},{height + HEIGHT},0.005,0.005,0.01\n"
    answer = check(shots, known=good)
    assert answer.exit_code == 0, answer.stderr
    (tie,) = answer.json["ties"]
    assert tie["difference_m"] == pytest.approx([0.006, -0.004, 0.011], abs=1e-6)
    # 1.96 × √(10² + 5²) mm and 1.96 × √(18² + 10²) mm.
    assert tie["tolerance_m"] == pytest.approx([0.0219, 0.0219, 0.0404], abs=5e-5)
    assert tie["verdict"] == "within tolerance"
    assert answer.json["tie_statement"] in answer.stderr
    assert point(answer, "CP5")["horizontal"]["reason"] == "known mark"
    assert len(answer.json["points"]) == 5
    report = (check.folder / "report.html").read_text("utf-8")
    assert "The absolute position was checked in plan and height at CP5" in report
    bad = check(shots, known=good.replace(f"{height + HEIGHT}", f"{height + HEIGHT - 0.2:.3f}"))
    assert bad.json["ties"][0]["verdict"] == "beyond tolerance"
    assert "does not fit the known position of CP5" in bad.stderr


def test_without_a_known_mark_the_report_makes_no_claim(check):
    answer = check([shot(name, time="09:00") for name in PLACES])
    assert answer.json["ties"] == []
    assert answer.json["tie_statement"] == (
        "No known mark was measured: absolute accuracy is not proved by this survey."
    )
    assert "All 5 points: occupied once" in answer.stderr
    assert "Survey of the points" not in (check.folder / "report.html").read_text("utf-8")


def test_known_positions_alone_are_refused(tmp_path):
    (tmp_path / "known.csv").write_text("id,easting,northing\nA,1,2\n")
    (tmp_path / "marks.csv").write_text("id,easting,northing\nA,1,2\n")
    (tmp_path / "job.toml").write_text(
        '[points]\npath = "known.csv"\nknown = true\n[targets]\nmarks = "marks.csv"\n'
    )
    answer = geoqa("check", str(tmp_path / "job.toml"))
    assert answer.exit_code == 2
    assert "every table of points is known" in answer.stderr


def test_the_pole_and_a_name_written_otherwise_are_told(check):
    shots = [shot(name, time="09:00") for name in PLACES]
    shots[3] = shots[3].replace("1.800", "2.000")
    shots.append(shot("CP1", (0.004, 0, 0), time="15:00").replace("CP1,", "cp-01,"))
    answer = check(shots)
    assert "The antenna height in shots.csv is 1.800 m at most points, but 2.000 m at CP4." in answer.stderr
    assert "“CP1” (shots.csv, line 2) and “cp-01” (shots.csv, line 7) are named nearly alike" in answer.stderr
    assert point(answer, "CP4")["survey"]["flags"] == ["single occupation", "antenna heights differ"]


def test_same_shots_in_another_order_give_the_same_figures(check):
    shots = morning_and_afternoon()
    first = check(shots).json
    second = check(shots[::-1]).json
    by_id = {item["id"]: item for item in second["points"]}
    for item in first["points"]:
        other = by_id[item["id"]]
        assert item["residual_m"] == pytest.approx(other["residual_m"], abs=1e-8)
        assert item["sigma_survey_m"] == pytest.approx(other["sigma_survey_m"], rel=1e-6)
        assert item["survey"]["flags"] == other["survey"]["flags"]
