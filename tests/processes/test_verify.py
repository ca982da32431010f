"""Verifying finds one changed byte, one changed point, one changed setting; it says what it cannot verify."""

import json
import shutil

import pytest

from tests.site import FIXTURE, geoqa

STAMP = "2026-05-01T10:00:00Z"


@pytest.fixture(scope="module")
def delivered(tmp_path_factory):
    folder = tmp_path_factory.mktemp("delivered")
    site = folder / "site"
    shutil.copytree(FIXTURE, site)
    answer = geoqa("check", str(site / "check.toml"), "--created", STAMP, "--quiet")
    assert answer.exit_code == 0, answer.stderr
    return site


@pytest.fixture
def site(delivered, tmp_path):
    """The site as it arrives at the client: in another place than where it was checked."""
    return shutil.copytree(delivered, tmp_path / "client")


def verified(site, *words):
    answer = geoqa("verify", str(site / "check-accuracy"), "--json", "--quiet", *words)
    return answer.exit_code, answer.json if answer.stdout else answer.stderr


def kinds(found):
    return {item["kind"] for item in found["differences"]}


def change(path, old, new):
    before = path.read_bytes()
    assert before.count(old) >= 1, old
    path.write_bytes(before.replace(old, new, 1))


def test_untouched_folder_is_identical_where_it_was_made_and_elsewhere(delivered, site):
    for place in (delivered, site):
        status, found = verified(place)
        assert (status, found["identical"], found["differences"]) == (0, True, [])
        assert found["compared"]["points"] == 8


def test_terminal_says_so_first(site):
    answer = geoqa("verify", str(site / "check-accuracy"))
    assert answer.stderr.startswith("Identical: ")
    assert answer.stdout == ""


def test_one_changed_byte_of_a_picture_is_found(site):
    picture = site / "check-accuracy" / "residual_map.png"
    data = bytearray(picture.read_bytes())
    data[len(data) // 2] ^= 1
    picture.write_bytes(bytes(data))
    status, found = verified(site)
    assert status == 1
    assert [(item["kind"], item["where"]) for item in found["differences"]] == [("file", "residual_map.png")]


def test_a_space_added_to_the_results_is_found(site):
    change(site / "check-accuracy" / "results.json", b'"title":', b'"title": ')
    status, found = verified(site)
    assert status == 1
    assert [(item["kind"], item["where"]) for item in found["differences"]] == [("file", "results.json")]


def test_an_absent_file_is_found(site):
    (site / "check-accuracy" / "points.csv").unlink()
    status, found = verified(site)
    assert status == 1
    assert found["differences"][0]["found"] is None


def test_a_file_exchanged_together_with_its_hash_is_found(site):
    import hashlib

    folder = site / "check-accuracy"
    before = hashlib.sha256((folder / "report.html").read_bytes()).hexdigest()
    change(folder / "report.html", b"proves it", b"proved it")
    after = hashlib.sha256((folder / "report.html").read_bytes()).hexdigest()
    change(folder / "results.json", before.encode(), after.encode())
    status, found = verified(site)
    assert status == 1
    assert [item["where"] for item in found["differences"]] == ["report.html"]


def test_one_changed_point_is_found_in_hash_point_and_statistic(site):
    change(site / "points.csv", b"571305.137", b"571305.147")
    status, found = verified(site)
    assert status == 1
    assert {"input", "point", "statistic"} <= kinds(found)
    moved = next(item for item in found["differences"] if item["where"] == "points CP01 survey_m 1")
    assert moved["found"] - moved["recorded"] == pytest.approx(0.010, abs=1e-6)


def test_points_that_no_longer_make_sense_are_a_difference_not_a_crash(site):
    change(site / "points.csv", b"571305.137", b"here")
    status, found = verified(site)
    assert status == 1
    assert kinds(found) == {"input"}
    assert "cannot be made again" in found["remarks"][0]


def test_one_changed_number_of_the_results_is_found_against_the_inputs(site):
    # A forger who also mends the fingerprint still fails: the check is made again.
    from geoqa.writers._fingerprint import fingerprint_of
    from geoqa.writers._json_text import encoded, write_json

    path = site / "check-accuracy" / "results.json"
    document = json.loads(path.read_text("utf-8"))
    document["statistics"]["up"]["rmse_m"] -= 0.001
    document["fingerprint"] = fingerprint_of(document, map(encoded, document["points"]))
    write_json(path, document, "points", map(encoded, document["points"]))
    status, found = verified(site)
    assert status == 1
    assert [item["where"] for item in found["differences"]] == ["statistics up rmse_m"]


def test_one_changed_digit_of_the_results_breaks_the_fingerprint(site):
    change(site / "check-accuracy" / "results.json", b'"rank": null', b'"rank": 1')
    status, found = verified(site)
    assert status == 1
    assert "fingerprint" in kinds(found)


def test_one_changed_setting_in_the_results_changes_what_follows(site):
    change(site / "check-accuracy" / "results.json", b'"vertical_rmse_m": 0.05', b'"vertical_rmse_m": 0.01')
    status, found = verified(site)
    assert status == 1
    assert {"fingerprint", "verdict", "claim"} <= kinds(found)


def test_one_changed_setting_in_the_file_is_found(site):
    change(site / "check.toml", b"slope_percent = 10", b"slope_percent = 11")
    status, found = verified(site)
    assert status == 1
    assert [(item["kind"], item["where"]) for item in found["differences"]] == [
        ("setting", "settings limits slope_percent")
    ]
    assert (found["differences"][0]["recorded"], found["differences"][0]["found"]) == (10, 11)


def test_inputs_are_sought_in_the_folder_named(site, tmp_path):
    store = tmp_path / "store"
    store.mkdir()
    for name in ("orthomosaic.tif", "surface.tif", "points.csv"):
        (site / name).rename(store / name)
    # The place where the record was made still exists in this test, so the folder is named.
    status, found = verified(site, "--inputs", str(store))
    assert (status, found["differences"]) == (0, [])
    status, told = verified(site, "--inputs", str(tmp_path / "nowhere"))
    assert status == 2
    assert "orthomosaic.tif" in told
    assert "--inputs" in told


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (None, "no results.json"),
        ("{", "cannot be read"),
        ('{"schema": "urn:geoqa:results:99"}', "version that wrote them"),
        ('{"schema": "urn:geoqa:results:1"}', "points, settings, provenance"),
    ],
)
def test_what_cannot_be_verified_ends_with_status_2_and_a_sentence(tmp_path, text, told):
    folder = tmp_path / "check-accuracy"
    folder.mkdir()
    if text is not None:
        (folder / "results.json").write_text(text)
    status, said = verified(tmp_path)
    assert status == 2
    assert told in said


def test_nothing_is_written_into_the_folder(site):
    before = sorted((path, path.stat().st_mtime_ns) for path in site.rglob("*"))
    verified(site)
    assert sorted((path, path.stat().st_mtime_ns) for path in site.rglob("*")) == before


@pytest.mark.parametrize("words", [["--cure", "shift; without CP02"], []], ids=["cures", "no settings file"])
def test_what_was_asked_on_the_command_line_is_made_again(site, words, monkeypatch):
    monkeypatch.chdir(site)
    given = ["check.toml"] if words else ["--elevation", "surface.tif", "--points", "points.csv"]
    answer = geoqa("check", *given, *words, "--out", "asked", "--created", STAMP, "--quiet")
    assert answer.exit_code == 0, answer.stderr
    again = geoqa("verify", "asked", "--json", "--quiet")
    assert (again.exit_code, again.json["differences"]) == (0, [])
    monkeypatch.chdir(site / "asked")
    again = geoqa("verify", ".", "--json", "--quiet")
    assert (again.exit_code, again.json["differences"]) == (0, [])
    monkeypatch.chdir(site.parent)
    again = geoqa("verify", "client/asked", "--json", "--quiet")
    assert (again.exit_code, again.json["differences"]) == (0, [])


def test_a_record_made_from_further_up_is_verified_from_within(site, monkeypatch):
    monkeypatch.chdir(site.parent)
    answer = geoqa("check", "client/check.toml", "--created", STAMP, "--quiet")
    assert answer.exit_code == 0, answer.stderr
    for folder, words in ((site, ["check-accuracy"]), (site.parent, ["client/check-accuracy"])):
        monkeypatch.chdir(folder)
        again = geoqa("verify", *words, "--json", "--quiet")
        assert (again.exit_code, again.json["differences"]) == (0, [])


def test_inputs_in_folders_of_their_own_are_found_side_by_side(site, tmp_path):
    (site / "rasters").mkdir()
    for name in ("orthomosaic.tif", "surface.tif"):
        (site / name).rename(site / "rasters" / name)
        change(site / "check.toml", f'"{name}"'.encode(), f'"rasters/{name}"'.encode())
    assert geoqa("check", str(site / "check.toml"), "--created", STAMP, "--quiet").exit_code == 0
    store = tmp_path / "store"
    store.mkdir()
    for path in (site / "rasters" / "orthomosaic.tif", site / "rasters" / "surface.tif", site / "points.csv"):
        shutil.copy(path, store)
    status, found = verified(site, "--inputs", str(store))
    assert (status, found["differences"]) == (0, [])


def test_report_and_terminal_print_the_fingerprint_of_the_results(site):
    results = json.loads((site / "check-accuracy" / "results.json").read_text("utf-8"))
    head = results["fingerprint"][:16]
    shown = " ".join(head[start : start + 4] for start in (0, 4, 8, 12))
    assert f"Fingerprint {shown}" in (site / "check-accuracy" / "report.html").read_text("utf-8")
    assert shown in geoqa("verify", str(site / "check-accuracy")).stderr
