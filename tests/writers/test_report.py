"""The report: its figures, its safety, its structure."""

import base64
import hashlib
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import numpy as np
import pytest
from lxml import html

from geoqa.records.cautions import CAUTIONS
from geoqa.records.results import (
    AccuracyFigure,
    ClaimVerdict,
    Finding,
    FindingVerdict,
    JudgementVerdict,
    ThreeNumbers,
)
from geoqa.records.survey import SurveyFlag, SurveyQuality
from geoqa.writers import _signs, chips, residual_map
from geoqa.writers._report_rows import quantity_text, shown_rows, step_change
from geoqa.writers._report_survey import remarkable
from geoqa.writers._results_document import without_points
from geoqa.writers.report import WRITER, render, write
from tests.builders import (
    CREATED,
    make_assessment,
    make_checkpoints,
    make_residuals,
    make_statistics,
    make_survey_quality,
)

NAN = float("nan")
OWN_COLOURS = ("ink", "quiet", "met", "not-met", "open")
SCRIPT = "<script>alert(1)</script>"


def page_of(assessment, folder):
    return html.fromstring(render(assessment, folder))


def words_of(element):
    return " ".join(element.text_content().split())


def cells(page, heading, column):
    """Return the texts of one column of the table whose head has this heading."""
    for table in page.iter("table"):
        heads = [words_of(head) for head in table.find("thead").iter("th")]
        if heading in heads:
            return [words_of(list(row)[heads.index(column)]) for row in table.find("tbody").iter("tr")]
    raise AssertionError(heading)


# --- content ---------------------------------------------------------------------------------------


def test_the_verdict_sentence_comes_before_any_figure(tmp_path):
    assessment = make_assessment(8)
    text = words_of(page_of(assessment, tmp_path).find(".//main"))
    assert text.index(assessment.verdict.sentence) < text.index("5 points used")


def test_the_statistics_are_those_of_the_residuals(tmp_path):
    assessment = make_assessment(16)
    page = page_of(assessment, tmp_path)
    used = assessment.residuals.used_horizontal_m
    rmse = dict(zip(cells(page, "NMAD", "Component"), cells(page, "NMAD", "RMSE"), strict=True))
    assert rmse["east"] == f"{np.sqrt(np.mean(used[:, 0] ** 2)):.3f}"
    assert rmse["horizontal"] == f"{np.sqrt((used**2).sum(axis=1).mean()):.3f}"


def test_every_point_has_its_row_with_residuals_use_and_origin(tmp_path):
    assessment = make_assessment(16)
    page = page_of(assessment, tmp_path)
    assert cells(page, "Plan counts", "Id") == list(assessment.residuals.ids)
    east = cells(page, "Plan counts", "East")
    for text, value in zip(east, assessment.residuals.delta_m[:, 0], strict=True):
        assert text == (
            "—" if np.isnan(value) else f"{value:+.3f}".replace("-", "−").replace("+0.000", "0.000")
        )
    found = assessment.residuals.delta_m[0]
    assert cells(page, "Plan counts", "Plan")[0] == f"{np.hypot(found[0], found[1]):.3f}"
    uses = cells(page, "Plan counts", "Plan counts")
    for text, reason in zip(uses, assessment.residuals.horizontal.reasons, strict=True):
        assert text == ("used" if reason is None else f"not used: {reason}")
    entry = page.get_element_by_id("point-0")
    facts = dict(zip(map(words_of, entry.iter("dt")), map(words_of, entry.iter("dd")), strict=True))
    assert facts["Read from"] == "lindenkamp.csv, line 2"
    assert facts["Plan"] == uses[0]


def test_three_numbers_say_what_they_are_relative_to(tmp_path):
    page = page_of(make_assessment(8), tmp_path)
    assert cells(page, "Of what", "Of what")[::2] == [
        "fit to the checkpoints",
        "the product alone",
        "absolute",
    ]
    assert cells(page, "Of what", "Relative to")[0] == "the surveyed checkpoints"


def test_a_number_that_cannot_be_had_is_a_dash(tmp_path):
    missing = AccuracyFigure(None, None, "not separable: no sigma of the survey")
    numbers = ThreeNumbers((missing,) * 2, (missing,) * 2, (missing,) * 2)
    page = page_of(make_assessment(8, accuracy=numbers), tmp_path)
    assert set(cells(page, "Of what", "RMSE")) == {"—"}


@pytest.mark.parametrize("n", [0, 1, 8, 40])
def test_no_placeholder_of_the_language_shows_through(tmp_path, n):
    text = words_of(page_of(make_assessment(n), tmp_path).find(".//main"))
    assert not re.search(r"\bnan\b|\bNone\b|\binf\b|Undefined|\{\{|\bTrue\b|\bFalse\b", text)


def test_no_points_at_all_is_said(tmp_path):
    text = words_of(page_of(make_assessment(0), tmp_path))
    assert "There are no points." in text
    assert "No point counts, so there are no statistics." in text


def test_judgements_findings_assumptions_and_messages_are_there(tmp_path):
    assessment = make_assessment(8)
    text = words_of(page_of(assessment, tmp_path))
    for judgement in assessment.judgements:
        assert judgement.sentence in text
        assert judgement.clause in text
        assert all(caveat in text for caveat in judgement.caveats)
    assert assessment.findings[0].evidence in text
    assert assessment.findings[0].advice in text
    assert all(item in text for item in (*assessment.assumptions, *assessment.messages))


def test_a_present_cause_comes_before_one_ruled_out(tmp_path):
    absent = Finding("tilt", FindingVerdict.ABSENT, "The plane is level, invented.", "")
    present = Finding("dome", FindingVerdict.PRESENT, "The middle is high, invented.", "Fly again.", rank=1)
    text = words_of(page_of(make_assessment(8, findings=(absent, present)), tmp_path))
    assert text.index("The middle is high") < text.index("The plane is level")


def test_inputs_stand_with_their_hashes(tmp_path):
    assessment = make_assessment(8)
    text = words_of(page_of(assessment, tmp_path))
    for item in (*assessment.provenance.inputs, *assessment.provenance.grids):
        assert item.path in text
        assert item.sha256 is None or item.sha256 in text
    assert "not on disk, no hash" in text
    assert CREATED[:10] in text


def test_the_steps_of_the_first_point_are_told(tmp_path):
    page = page_of(make_assessment(8), tmp_path)
    assert cells(page, "Operation", "Step") == ["base correction", "projection change", "height system"]
    assert cells(page, "Operation", "Stated accuracy, m") == ["0.008", "none stated", "0.020"]
    assert cells(page, "Operation", "Change east, north, up, m")[:2] == ["+0.412, −0.655, +1.208", "—"]


def test_every_report_carries_the_cautions(tmp_path):
    text = words_of(page_of(make_assessment(0), tmp_path))
    for caution in CAUTIONS:
        assert caution in text
    for subject in (
        "legal survey",
        "licensed professional",
        "Local codes",
        "tested area",
        "position of the base",
    ):
        assert subject in text


def test_many_points_are_cut_to_the_largest_and_a_sample_and_that_is_said(tmp_path):
    delta = np.random.default_rng(2).normal(0.0, 0.02, (1000, 3))
    residuals = make_residuals(delta_m=delta)
    assessment = replace(
        make_assessment(1000, pictures=False), residuals=residuals, statistics=make_statistics(residuals)
    )
    rows, sentence = shown_rows(assessment)
    assert len(rows) == len(set(rows)) <= 200
    length = np.hypot(delta[:, 0], delta[:, 1])
    assert {int(np.argmax(length)), int(np.argmax(np.abs(delta[:, 2])))} <= set(rows[:100])
    assert "points.csv" in sentence
    page = page_of(assessment, tmp_path)
    assert len(cells(page, "Plan counts", "Id")) == len(rows)
    assert sentence in words_of(page)


def test_quantities_and_changes_are_written_with_their_sign_and_unit():
    (told,) = without_points(make_assessment(1), ())["findings"]
    assert [quantity_text(item) for item in told["quantities"]] == [
        "height offset 0.018 ± 0.006 m",
        "share explained 0.40",
    ]
    assert step_change([None, None, None]) == "—"
    assert step_change([0.0, 0.0, -47.31]) == "0.000, 0.000, −47.310"


def test_members_that_a_document_may_have_find_their_place_and_unknown_ones_are_told(tmp_path, monkeypatch):
    def with_more(assessment, files):
        document = without_points(assessment, files)
        document["claims"]["vertical RMSE"]["arithmetic"] = "0.028 m × 1.40 = 0.039 m"
        document["claims"]["vertical RMSE"]["provable"] = {"sentence": "Ten points more would prove it."}
        document["statistics"]["up"]["skewness"] = 0.25
        document["statistics"]["up"]["mean_interval_m"] = [-0.01, 0.02]
        return {
            **document,
            "decision": {
                "sentence": "Take more points, invented.",
                "removable": {"vertical": {"shift": {"share": 0.625, "rmse_m": 0.0123}}},
            },
            "blind_spots": [{"sentence": "A tilt below 2 cm would not show, invented."}],
            "fitness": [
                {"topic": "number", "direction": None, "grade": "weak", "sentence": "Few, invented."}
            ],
            "weather_m": {"wind_m": 1.0, "note": "calm"},
            "empty": [],
        }

    monkeypatch.setattr("geoqa.writers._report_content.without_points", with_more)
    page = page_of(make_assessment(16), tmp_path)
    text = words_of(page.find(".//main"))
    assert text.index("Take more points") < text.index("What this holds for")
    lacks = text[text.index("What it does not hold for") : text.index("Fingerprint")]
    assert "A tilt below 2 cm would not show" in lacks
    assert "0.028 m × 1.40 = 0.039 m" in text
    assert "Ten points more would prove it." in text
    assert cells(page, "Trend", "Share of RMSE², per cent") == ["62"]
    assert cells(page, "Grade", "Direction") == ["both"]
    further = dict(zip(cells(page, "Figure", "Figure"), cells(page, "Figure", "up"), strict=True))
    assert (further["Skewness"], further["95 % interval of the mean, m"]) == ("0.25", "−0.010 to 0.020")
    assert "Weather, m" in text
    assert "1.000" in text[text.index("Weather, m") :]
    assert "Empty" not in text


def test_numbers_of_the_page_are_those_of_the_results(tmp_path):
    assessment = make_assessment(16)
    document = without_points(assessment, ())
    page = page_of(assessment, tmp_path)
    claim = document["claims"]["horizontal RMSE"]
    (gauge,) = [item for item in page.iter("svg") if item.get("aria-label", "").startswith("horizontal RMSE")]
    assert gauge.get("aria-label") == (
        f"horizontal RMSE {claim['value_m']:.3f} m, one-sided 95 % bounds {claim['lower95_m']:.3f} and "
        f"{claim['upper95_m']:.3f} m, limit 0.05 m, {claim['count']} points"
    )
    # The drawing keeps the proportion of value to limit.
    value = float(gauge.find(".//circle").get("cx"))
    limit = float(gauge.find(".//rect").get("width"))
    assert value / limit == pytest.approx(claim["value_m"] / 0.05, abs=0.005)
    assert document["fingerprint"][:4] in words_of(page.find(".//main"))


def test_map_puts_points_and_vectors_where_they_belong(tmp_path):
    assessment = make_assessment(16)
    page = page_of(assessment, tmp_path)
    (site,) = [item for item in page.iter("svg") if item.get("id") == "site"]
    marks = {
        words_of(item.find(".//title")).split(":")[0]: [
            float(number) for number in re.findall(r"[-\d.]+", item.get("transform"))
        ]
        for item in site.iter("g")
        if item.get("class") == "mark"
    }
    ids, place = assessment.residuals.ids, assessment.residuals.survey_m
    assert set(marks) == set(ids)
    found = np.array([marks[name] for name in ids])
    # East to the right, north upwards, one scale for both.
    east = np.polyfit(place[:, 0] - place[0, 0], found[:, 0], 1)
    north = np.polyfit(place[:, 1] - place[0, 1], found[:, 1], 1)
    assert east[0] > 0
    assert north[0] == pytest.approx(-east[0], rel=1e-3)
    vectors = [item for item in site.iter("g") if "vector" in (item.get("class") or "").split()]
    measured = np.isfinite(assessment.residuals.delta_m[:, :2]).all(axis=1)
    assert len(vectors) == measured.sum()
    lengths = [np.hypot(float(item.get("data-e")), float(item.get("data-s"))) for item in vectors]
    true = np.hypot(*assessment.residuals.delta_m[measured, :2].T)
    assert np.allclose(np.array(lengths) / east[0], true, rtol=0, atol=1e-6)


# --- safety ----------------------------------------------------------------------------------------


class Tags(HTMLParser):
    """All tags and attributes, as a browser would find them."""

    def __init__(self):
        super().__init__()
        self.found = []

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))


def tags_of(text):
    reader = Tags()
    reader.feed(text)
    return reader.found


def test_markup_in_inputs_stays_text(tmp_path):
    made = make_assessment(3, title=SCRIPT, messages=(SCRIPT,), assumptions=('"><img src=x onerror=y>',))
    ids = (SCRIPT, "' onclick='x", "{{ 7 * 7 }}")
    assessment = replace(made, residuals=replace(made.residuals, ids=ids))
    chips.write(assessment, tmp_path)
    text = render(assessment, tmp_path)
    names = [tag for tag, _ in tags_of(text)]
    assert names.count("script") == 1
    assert not any(name.startswith("on") for _, attrs in tags_of(text) for name in attrs)
    assert "49" not in cells(html.fromstring(text), "Plan counts", "Id")
    assert cells(html.fromstring(text), "Plan counts", "Id")[0] == SCRIPT
    assert words_of(html.fromstring(text).find(".//h1")) == SCRIPT


def test_the_page_asks_for_nothing_from_outside(tmp_path):
    assessment = make_assessment(4)
    residual_map.write(assessment, tmp_path)
    chips.write(assessment, tmp_path)
    text = render(assessment, tmp_path)
    for tag, attrs in tags_of(text):
        assert tag not in {"link", "iframe", "object", "embed", "base", "form"}
        assert "style" not in attrs
        if "src" in attrs:
            assert attrs["src"].startswith("data:image/png;base64,")
        if "href" in attrs and attrs["href"].startswith("chips/"):
            assert re.fullmatch(r"chips/[A-Za-z0-9._-]+\.png", attrs["href"])
            assert (tmp_path / attrs["href"]).is_file()
        elif "href" in attrs:
            assert attrs["href"].startswith(("#", "data:image/jpeg;base64,"))
    assert set(re.findall(r"url\(([^)]*)\)", text)) == {"#strokes"}
    assert "@import" not in text
    policies = [attrs["content"] for tag, attrs in tags_of(text) if "http-equiv" in attrs]
    script, style = (
        "'sha256-" + base64.b64encode(hashlib.sha256(found.encode()).digest()).decode() + "'"
        for found in (re.search(rf"<{tag}>(.*?)</{tag}>", text, re.DOTALL)[1] for tag in ("script", "style"))
    )
    assert policies == [
        f"default-src 'none'; img-src data:; style-src {style}; script-src {script}; base-uri 'none'; "
        "form-action 'none'"
    ]


def test_without_pictures_there_is_none_and_no_link(tmp_path):
    text = render(make_assessment(8, pictures=False), tmp_path)
    names = [tag for tag, _ in tags_of(text)]
    assert "img" not in names
    assert "image" not in names
    assert "chips/" not in text


# --- survey ----------------------------------------------------------------------------------------


def test_points_with_several_shots_show_their_differences_and_sigmas(tmp_path):
    page = page_of(make_assessment(9), tmp_path)
    # Every fourth point was occupied twice; the others were shot once, of which nothing is to be said.
    assert cells(page, "Noticed", "Id") == ["LK01", "LK05", "LK09"]
    assert cells(page, "Noticed", "Occupations") == ["2"] * 3
    assert cells(page, "Noticed", "Up") == ["0.064", "0.021", "0.021"]
    assert cells(page, "Noticed", "Stated")[0] == "0.006 0.007 0.012"
    assert cells(page, "Noticed", "Taken")[0] == "0.008 0.009 0.015"
    assert cells(page, "Noticed", "Noticed")[0].startswith("occupations differ: its 2 occupations differ by")


def test_known_marks_are_shown_with_tolerance_and_statement(tmp_path):
    assessment = make_assessment(4)
    page = page_of(assessment, tmp_path)
    table = next(item for item in page.iter("table") if item.get("aria-labelledby") == "table-ties")
    (row,) = table.find("tbody").iter("tr")
    assert [words_of(cell) for cell in row] == [
        *("TP 9", "+0.011 (± 0.030)", "−0.004 (± 0.030)", "—", "within tolerance")
    ]
    assert assessment.survey_quality.statement in words_of(page)


def test_a_survey_of_which_nothing_is_to_be_said_has_no_section(tmp_path):
    quality = SurveyQuality(
        occupations=np.ones(4),
        shots=np.ones(4),
        spread_m=np.full((4, 3), NAN),
        sigma_stated_m=np.full((4, 3), NAN),
        sigma_reported_m=np.full((4, 3), NAN),
        flags=((SurveyFlag.SINGLE_OCCUPATION,),) * 4,
    )
    page = page_of(make_assessment(4, survey_quality=quality), tmp_path)
    assert "Survey of the points" not in words_of(page)


def test_gravest_points_come_first_and_many_are_cut():
    flags = [(SurveyFlag.OPTIMISTIC,)] * 80
    flags[70] = (SurveyFlag.DISAGREE, SurveyFlag.OPTIMISTIC)
    quality = replace(
        make_survey_quality(make_checkpoints(80)), flags=tuple(flags), reasons={}, each={}, shots=np.ones(80)
    )
    rows, choice = remarkable(make_assessment(80, pictures=False, survey_quality=quality))
    assert rows[:2] == [70, 0]
    assert len(rows) == 60
    assert choice == "The first 60 of 80 points; all of them are in points.csv."


# --- structure -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def full_page(tmp_path_factory):
    folder = tmp_path_factory.mktemp("results")
    assessment = make_assessment(16)
    residual_map.write(assessment, folder)
    chips.write(assessment, folder)
    return html.fromstring(render(assessment, folder))


def test_headings_follow_each_other_without_a_gap(full_page):
    levels = [int(element.tag[1]) for element in full_page.iter("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_tables_have_names_and_headers_with_scope(full_page):
    names = [element.get("id") for element in full_page.iter() if element.get("id")]
    assert len(names) == len(set(names))
    for table in full_page.iter("table"):
        assert table.get("aria-labelledby") in names
        assert all(head.get("scope") in ("col", "row") for head in table.iter("th"))
        widths = {len(list(row)) for row in table.iter("tr")}
        assert len(widths) == 1


def test_pictures_have_words_and_the_page_a_language(full_page):
    assert full_page.get("lang") == "en"
    pictures = list(full_page.iter("img"))
    assert len(pictures) > 5
    assert all(len(picture.get("alt")) > 20 for picture in pictures)
    assert full_page.find(".//title").text


def luminance(colour):
    """Return the relative luminance by WCAG 2.1."""
    parts = np.array([int(colour[start : start + 2], 16) for start in (1, 3, 5)]) / 255
    linear = np.where(parts <= 0.03928, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def test_words_have_enough_contrast_and_a_sign_beside_the_colour():
    signs = {**_signs.VERDICT_SIGNS, **_signs.JUDGEMENT_SIGNS, **_signs.FINDING_SIGNS}
    pale = re.search(r"--wash: (#\w{6})", style_source()).group(1)
    own = {name: re.search(rf"--{name}: (#\w{{6}})", style_source()).group(1) for name in OWN_COLOURS}
    assert {own["met"], own["not-met"], own["open"]} == {colour for _, colour in signs.values()}
    for colour in own.values():
        for ground in ("#ffffff", pale):
            # WCAG 2.1, success criterion 1.4.3.
            assert (luminance(ground) + 0.05) / (luminance(colour) + 0.05) >= 4.5
    assert all(sign for sign, _ in signs.values())
    assert _signs.VERDICT_SIGNS[ClaimVerdict.PROVED][0] != _signs.VERDICT_SIGNS[ClaimVerdict.FAILED][0]
    assert set(_signs.VERDICT_SIGNS) == set(ClaimVerdict)
    assert set(_signs.JUDGEMENT_SIGNS) == set(JudgementVerdict)


def style_source():
    from geoqa.writers import report

    return (report.Path(report.__file__).parent / "report.css").read_text("utf-8")


def test_the_file_is_equal_each_time_and_nothing_else_is_written(tmp_path):
    assert [path.name for path in write(make_assessment(8), tmp_path)] == ["report.html"]
    before = (tmp_path / "report.html").read_bytes()
    write(make_assessment(8), tmp_path)
    assert (tmp_path / "report.html").read_bytes() == before
    assert len(list(tmp_path.iterdir())) == 1


def test_the_report_is_written_after_the_pictures_it_holds():
    assert WRITER.order > max(residual_map.WRITER.order, chips.WRITER.order)
    assert not WRITER.picture
