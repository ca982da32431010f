"""The report in a browser: nothing leaves the page, nothing goes wrong, and what moves moves rightly."""

import json
import re
import shutil
import warnings
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from geoqa.writers import chips
from geoqa.writers.report import write
from tests.builders import make_assessment

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="there is no chromium")
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking"]
SIZES = {"phone": (390, 844), "laptop": (1366, 768), "paper": (794, 1123)}


@pytest.fixture(scope="module")
def browser():
    with sync_api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield started
        started.close()


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    folder = tmp_path_factory.mktemp("results")
    assessment = make_assessment(16)
    chips.write(assessment, folder)
    write(assessment, folder)
    return folder / "report.html", assessment


@contextmanager
def opened(browser, path, size="laptop", **options):
    """Yield the page, and everything that it asked for or complained about."""
    width, height = SIZES[size]
    page = browser.new_page(viewport={"width": width, "height": height}, **options)
    said = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda mistake: said.append(str(mistake)))
    page.on("request", lambda request: said.append(request.url) if asks(request.url, path) else None)
    page.goto(path.as_uri())
    yield page, said
    page.close()


def asks(url, path):
    return not url.startswith(("data:", path.as_uri()))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("n", [0, 1, 200])
def test_nothing_leaves_the_page_and_nothing_goes_wrong(browser, tmp_path, size, n):
    write(make_assessment(n, pictures=n == 200), tmp_path)
    with opened(browser, tmp_path / "report.html", size) as (page, said):
        page.locator("#glossary").scroll_into_view_if_needed()
        assert said == []
        # Tables scroll within themselves: the page is never wider than the screen.
        assert page.locator("html").evaluate("e => e.scrollWidth") <= SIZES[size][0]


def tip(page, number):
    """Return the length of a vector as drawn, from its mark to its tip."""
    vector = page.locator("#site g.vector").nth(number)
    x, y = (float(vector.get_attribute(f"data-{axis}")) for axis in "xy")
    head = vector.locator(".head").get_attribute("d")
    first = head[1:].split(" L")[0].split()
    return ((float(first[0]) - x) ** 2 + (float(first[1]) - y) ** 2) ** 0.5


def test_slider_enlarges_the_vectors_by_what_it_says(browser, report):
    with opened(browser, report[0]) as (page, said):
        before = tip(page, 0)
        shown = page.locator("#enlarged").text_content()
        page.locator("#enlarge").fill("3")
        after = page.locator("#enlarged").text_content()
        # Three steps of 1, 2, 5 are a factor of ten.
        assert float(after.split()[0]) == pytest.approx(10 * float(shown.split()[0]))
        assert tip(page, 0) == pytest.approx(10 * before, rel=1e-3)
        assert page.locator("#key-factor").text_content() == after.split()[0]
        page.locator("#enlarge").fill("0")
        assert tip(page, 0) == pytest.approx(before, rel=1e-6)
        assert said == []


def test_a_heading_sorts_by_size_and_then_the_other_way(browser, report):
    path, assessment = report
    with opened(browser, path) as (page, said):
        column = page.locator("table.sortable tbody tr td:nth-child(6)")
        head = page.locator("table.sortable th").nth(5)
        head.locator("button").click()
        shown = column.all_text_contents()
        sizes = [abs(float(text.replace("−", "-"))) for text in shown if text != "—"]
        assert sizes == sorted(sizes, reverse=True)
        assert len(sizes) == np.isfinite(assessment.residuals.delta_m[:, 2]).sum()
        assert shown[len(sizes) :] == ["—"] * (len(shown) - len(sizes))
        assert head.get_attribute("aria-sort") == "descending"
        head.locator("button").press("Enter")
        assert head.get_attribute("aria-sort") == "ascending"
        again = [abs(float(text.replace("−", "-"))) for text in column.all_text_contents() if text != "—"]
        assert again == sizes[::-1]
        page.locator("table.sortable th").first.locator("button").click()
        ids = page.locator("table.sortable tbody th").all_text_contents()
        assert ids == sorted(assessment.residuals.ids)
        assert said == []


def view(page):
    return [float(number) for number in page.locator("#site").get_attribute("viewBox").split()]


def test_map_is_zoomed_and_moved_by_buttons_keys_and_pointer(browser, report):
    with opened(browser, report[0]) as (page, said):
        whole = view(page)
        page.locator("[data-zoom=in]").click()
        nearer = view(page)
        assert nearer[2] == pytest.approx(whole[2] * 0.625)
        page.locator("#site").focus()
        page.keyboard.press("ArrowRight")
        assert view(page)[0] > nearer[0]
        box = page.locator("#site").bounding_box()
        middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        start = view(page)
        page.mouse.move(*middle)
        page.mouse.down()
        page.mouse.move(middle[0] + 60, middle[1] + 20, steps=4)
        page.mouse.up()
        assert view(page)[0] == pytest.approx(start[0] - 60 * start[2] / box["width"], abs=1.0)
        page.keyboard.press("0")
        assert view(page) == pytest.approx(whole)
        assert said == []


def test_marks_and_ids_keep_their_size_and_no_id_covers_another(browser, report):
    with opened(browser, report[0]) as (page, said):
        size = page.locator("#site .mark path").first.bounding_box()["width"]
        page.locator("[data-zoom=in]").click()
        assert page.locator("#site .mark path").first.bounding_box()["width"] == pytest.approx(size, rel=0.05)
        boxes = [item.bounding_box() for item in page.locator("#site .label:not(.out)").all()]
        shown = [box for box in boxes if box]
        for number, one in enumerate(shown):
            for other in shown[number + 1 :]:
                apart = (
                    one["x"] + one["width"] <= other["x"] + 1
                    or other["x"] + other["width"] <= one["x"] + 1
                    or one["y"] + one["height"] <= other["y"] + 4
                    or other["y"] + other["height"] <= one["y"] + 4
                )
                assert apart
        assert said == []


def test_parts_of_the_map_are_switched_off(browser, report):
    with opened(browser, report[0]) as (page, _):
        for name, part in (("vectors", ".vectors"), ("names", ".label"), ("hatch", ".hatch")):
            box = page.locator(f"[data-show={name}]")
            box.uncheck()
            assert page.locator(f"#site {part}").first.evaluate("e => getComputedStyle(e).display") == "none"
            box.check()
            assert page.locator(f"#site {part}").first.evaluate("e => getComputedStyle(e).display") != "none"


def test_an_id_opens_the_entry_of_the_point_from_table_and_map(browser, report):
    with opened(browser, report[0]) as (page, said):
        page.locator("table.sortable tbody a").nth(2).click()
        sync_api.expect(page.locator("#point-2")).to_have_attribute("open", "")
        page.locator("#site a").nth(4).click()
        target = page.locator("#site a").nth(4).get_attribute("href")
        sync_api.expect(page.locator(target)).to_have_attribute("open", "")
        assert said == []


@pytest.mark.parametrize("size", SIZES)
def test_profiles_of_a_point_are_drawn_and_told(browser, report, size):
    path, assessment = report
    with opened(browser, path, size) as (page, said):
        assert page.locator(".profile svg").count() == len(assessment.profiles.rows)
        point = page.locator(f"#point-{assessment.profiles.rows[1]}")
        point.locator("summary").click()
        drawing = point.locator(".profile svg")
        name = assessment.residuals.ids[assessment.profiles.rows[1]]
        sync_api.expect(drawing).to_have_accessible_name(
            re.compile(f"through {name}.*west to east .* m; south to north .* m")
        )
        dashes = drawing.locator("path.surface").evaluate_all(
            "lines => lines.map(line => getComputedStyle(line).strokeDasharray)"
        )
        assert dashes[0] == "none"
        assert dashes[1] != "none"
        boxes = [item.bounding_box() for item in drawing.locator("text").all()]
        assert apart_from_each_other(boxes)
        frame = drawing.bounding_box()
        assert all(frame["x"] - 1 <= box["x"] for box in boxes)
        assert all(box["x"] + box["width"] <= frame["x"] + frame["width"] + 1 for box in boxes)
        assert frame["x"] + frame["width"] <= SIZES[size][0]
        assert said == []


def apart_from_each_other(boxes):
    # A box reaches above and below its letters.
    return all(
        one["x"] + one["width"] <= other["x"]
        or other["x"] + other["width"] <= one["x"]
        or one["y"] + one["height"] <= other["y"] + 4
        or other["y"] + other["height"] <= one["y"] + 4
        for number, one in enumerate(boxes)
        for other in boxes[number + 1 :]
    )


def test_page_can_be_read_without_script(browser, report):
    path, assessment = report
    with opened(browser, path, java_script_enabled=False) as (page, said):
        assert page.locator(".controls").first.is_hidden()
        assert page.locator("#site .shaft").count() > 3
        assert assessment.verdict.sentence in page.locator("main").inner_text()
        page.locator("details.point summary").first.click()
        assert page.locator("details.point dl").first.is_visible()
        assert said == []


def test_print_has_all_points_open_and_no_controls(browser, report):
    with opened(browser, report[0], "paper") as (page, said):
        page.emulate_media(media="print")
        assert page.locator(".controls").first.is_hidden()
        page.evaluate("dispatchEvent(new Event('beforeprint'))")
        assert page.locator("details.point:not([open])").count() == 0
        page.evaluate("dispatchEvent(new Event('afterprint'))")
        assert page.locator("details.point[open]").count() == 0
        assert page.pdf(format="A4").startswith(b"%PDF")
        assert said == []


def test_keyboard_reaches_the_controls_in_order(browser, report):
    with opened(browser, report[0]) as (page, _):
        page.keyboard.press("Tab")
        focus = "document.activeElement"
        assert page.evaluate(f"{focus}.getAttribute('href')") == "#pattern"
        assert page.locator(".skip a").first.bounding_box()["x"] >= 0
        seen = []
        for _ in range(40):
            page.keyboard.press("Tab")
            seen.append(page.evaluate(f"{focus}.id || {focus}.dataset.zoom || {focus}.dataset.show || ''"))
        expected = ["in", "out", "all", "enlarge", "vectors", "heights", "names", "hatch", "site"]
        assert [name for name in seen if name in expected] == expected


@pytest.mark.parametrize("size", ["phone", "laptop"])
def test_axe_finds_no_serious_problem(browser, report, size):
    axe = pytest.importorskip("axe_playwright_python.base", reason="axe is not installed")
    script = Path(axe.__file__).with_name("axe.min.js").read_text("utf-8")
    with opened(browser, report[0], size, bypass_csp=True) as (page, _):
        page.evaluate("document.querySelectorAll('details').forEach((item) => { item.open = true; })")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            page.evaluate(script)
        found = page.evaluate("axe.run()")
    grave = [
        (item["id"], item["impact"], [node["html"][:120] for node in item["nodes"][:3]])
        for item in found["violations"]
        if item["impact"] in {"serious", "critical"}
    ]
    assert grave == [], json.dumps(grave, indent=1)
    assert len(found["passes"]) > 20
