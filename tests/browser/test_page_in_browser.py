"""The report page in a browser: nothing in the console, nothing wider than the screen, nothing blank on paper.

Needs Debian's chromium and `pip install ".[browser]"`; run with ``-m browser``. Nothing is skipped: what is missing
is an error.
"""

import io
import os
from dataclasses import replace
from pathlib import Path

import pytest

import solidify
from solidify.assessment.judge import judge
from solidify.case import parse_case
from solidify.plan.effects import plan_effects
from solidify.plan.heat_plan import heat_plan
from solidify.plan.plan_file import read_plan
from solidify.plan.verdicts import judge_strands
from solidify.report.plan import plan_page
from solidify.report.speeds import ceiling_page
from solidify.report.strand_page import report_page
from solidify.report.study_page import study_page
from solidify.report.tuning_page import tuning_page
from solidify.storage.study_file import load_study
from solidify.strand.solve import solve
from solidify.study.definition import make_study
from solidify.study.run import run_study
from solidify.study.speed_range import Ceiling, Interval
from solidify.tuning.target_file import parse_target
from solidify.tuning.tune import tune

pytestmark = pytest.mark.browser

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SHIPPED = Path(solidify.__file__).parent / "data" / "cases"
CASES = Path(__file__).parents[2] / "cases"
LONG = "Sprühzone_mit_einem_sehr_langen_Namen_ohne_jede_Lücke"

WIDER = """() => [...document.querySelectorAll('body *')]
  .filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5
               || e.clientWidth > 0 && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline')
  .map(e => `${e.tagName} ${e.className} ${e.textContent.trim().slice(0, 40)}`)"""

LOW_CONTRAST = """() => {
  const light = c => { const [r, g, b] = c.match(/[\\d.]+/g).map(Number).map(x => x / 255)
      .map(x => x <= 0.03928 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b };
  const ground = e => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor;
      if (!/, 0\\)$/.test(c)) return c } return 'rgb(255, 255, 255)' };
  return [...document.querySelectorAll('body *')]
    .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()))
    .filter(e => { const a = light(getComputedStyle(e).color), b = light(ground(e));
      return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05) < 4.5 })
    .map(e => `${e.tagName} ${e.className} ${e.textContent.trim().slice(0, 40)}`) }"""


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Pages of the demo plants, and of one whose names are long."""
    folder = tmp_path_factory.mktemp("pages")
    cases = {}
    for name in ("bloom", "slab", "billet"):
        cases[name] = parse_case((SHIPPED / f"{name}.toml").read_text(encoding="utf-8"), f"{name}.toml")
    text = (SHIPPED / "bloom.toml").read_text(encoding="utf-8").replace('"spray 1"', f'"{LONG}"')
    cases["long"] = parse_case(text, f"{LONG}.toml").replace({"title": LONG * 2})
    for name, case in cases.items():
        result = solve(case)
        (folder / f"{name}.html").write_text(report_page(result, judge(result)), encoding="utf-8")
    (folder / "table.html").write_text(table_page(cases["slab"]), encoding="utf-8")
    (folder / "speeds.html").write_text(speeds_page(cases["bloom"]), encoding="utf-8")
    plan = read_plan(CASES / "heat-plan.toml")
    named = replace(plan, strands=(replace(plan.strands[0], name=LONG[:16]), *plan.strands[1:]))
    found = heat_plan(named)
    (folder / "plan.html").write_text(
        plan_page(found, judge_strands(found), plan_effects(found)), encoding="utf-8"
    )
    vary = {
        "casting.superheat_K": {"low": 20, "high": 40},
        f'zone."{LONG}".water_L_per_min': {"low": 80, "high": 120},
    }
    run_study(make_study(cases["long"], vary, sampling="sobol indices", runs=8), folder / "study.h5")
    (folder / "study.html").write_text(study_page(load_study(folder / "study.h5")), encoding="utf-8")
    return folder


def speeds_page(case):
    """The page of casting speeds: five inputs, one of them a long word, rows with two speeds and with none."""
    keys = ["section.thickness_mm", "section.width_mm", "steel.composition.C", "casting.superheat_K", "title"]
    inputs = dict(zip(keys, (250, 300, 0.45, 28, LONG), strict=True))
    labels = ("surface at the straightener", "last liquid to last support")
    sure = Interval(0.7, 0.9, labels[:1], labels[1:])
    both = (Interval(0.6, 1.0, labels[:1], labels[1:], sure), Interval(1.1, 1.2, labels, ()))
    rows = [Ceiling(inputs, both, (), labels, True), Ceiling(inputs, (), labels, (), True)]
    return ceiling_page(rows * 9, case, [0.4, 0.45, 1.4])


def table_page(case):
    """The page of a spray table with nine speeds, long names of a zone and a loop, and sides."""
    text = case.text.replace('"spray 3"', f'"{LONG}"')
    slab = parse_case(text, "slab.toml")
    fixed = "".join(
        f'[valve."{zone.name}"]\nfixed = true\n' for zone in slab.zone if zone.name not in (LONG, "spray 4")
    )
    target = f"""
speeds_m_per_min = [0.8, 0.85, 0.9, 0.95, 1.0, 1.05, 1.1, 1.15, 1.2]
[[surface]]
distance_m = 12.4
temperature_C = 930
[valve."spray 4"]
side_shares = {{ loose = 0.48, fixed = 0.52 }}
[loop."{LONG}"]
feeds = ["{LONG}", "spray 4 loose"]
{fixed}"""
    return tuning_page(tune(slab, parse_target(target, slab)))


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    from playwright.sync_api import sync_playwright

    profile = tmp_path_factory.mktemp("profile")
    with sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            str(profile), executable_path=CHROMIUM, args=FLAGS, headless=True, offline=True
        )
        yield context
        context.close()


@pytest.fixture
def opened(browser, files):
    """Open a page at a width; the console and every address asked for are kept beside it."""
    tabs = []

    def go(name, width):
        tab = browser.new_page()
        tabs.append(tab)
        tab.said, tab.asked = [], []
        tab.on("console", lambda message: tab.said.append(message.text))
        tab.on("pageerror", lambda error: tab.said.append(str(error)))
        tab.on("request", lambda request: tab.asked.append(request.url))
        tab.set_viewport_size({"width": width, "height": 844})
        tab.goto((files / f"{name}.html").as_uri())
        return tab

    yield go
    for tab in tabs:
        tab.close()


WIDTHS = [390, 1280]
NAMES = ["bloom", "slab", "billet", "long", "table", "speeds", "study", "plan"]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_said_asked_for_or_wider_than_the_screen(opened, name, width):
    page = opened(name, width)
    assert page.said == []
    assert [url for url in page.asked if not url.startswith(("file:", "data:"))] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.evaluate(WIDER) == []


@pytest.mark.parametrize("width", WIDTHS)
def test_pictures_are_drawn_and_the_one_for_a_phone_is_taken_there(opened, width):
    page = opened("slab", width)
    shown = page.evaluate(
        "[...document.images].filter(i => i.offsetWidth).map(i => [i.complete, i.naturalWidth, i.naturalHeight])"
    )
    assert len(shown) == (1 if width == 390 else 2)  # on a phone the table stands for the picture of the heat
    assert all(complete and wide > 200 for complete, wide, _ in shown)
    assert (shown[0][2] > 1.5 * shown[0][1]) == (width == 390)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["billet", "table"])
def test_text_stands_out_from_its_ground(opened, name, width):
    """4.5 to 1 or more: WCAG 2.2, success criterion 1.4.3 (from memory)."""
    assert opened(name, width).evaluate(LOW_CONTRAST) == []


@pytest.mark.parametrize(("width", "look", "columns"), [(390, "phone", 4), (1280, "paper", 8)])
def test_a_table_over_the_speed_is_parted_to_fit(opened, width, look, columns):
    page = opened("table", width)
    shown = page.evaluate(
        "[...document.querySelectorAll('.by-speed')].filter(t => t.offsetWidth)"
        ".map(t => [t.closest('.paper, .phone').className, t.tHead.rows[0].cells.length - 1])"
    )
    assert {found for found, _ in shown} == {look}
    assert max(count for _, count in shown) <= columns
    assert sum(count for _, count in shown) == 27  # nine speeds of water, loops and points


def test_it_reads_aloud_as_headings_and_tables_with_names(opened):
    page = opened("billet", 390)
    assert page.get_by_role("heading", level=1).count() == 1
    for name in ("Findings", "Cautions", "The case as given"):
        assert page.get_by_role("heading", level=2, name=name, exact=True).count() == 1
        assert page.get_by_role("region", name=name, exact=True).count() == 1
    assert page.get_by_role("table", name="How the strand stands to each limit").count() == 1
    assert page.get_by_role("rowheader", name="reheating rate").count() == 1
    assert page.get_by_role("columnheader", name="verdict").count() == 1


@pytest.mark.parametrize("name", ["bloom", "table"])
def test_every_link_leads_to_its_heading(opened, name):
    page = opened(name, 390)
    for link in page.get_by_role("navigation").get_by_role("link").all():
        link.click()
        target = link.get_attribute("href")
        assert page.evaluate("location.hash") == target
        assert page.locator(target).is_visible()


@pytest.mark.parametrize("name", NAMES)
def test_on_a4_no_page_is_blank_and_no_line_is_cut(opened, name):
    from pypdf import PdfReader

    page = opened(name, 1280)
    printed = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    assert 1 <= len(printed.pages) <= 16
    for number, leaf in enumerate(printed.pages, 1):
        assert [round(float(x) / 72 * 25.4) for x in leaf.mediabox[2:]] == [210, 297]
        assert len(leaf.extract_text().split()) > 12, f"page {number} is blank"
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 688, "height": 1000})  # A4 less the margins, at 96 pixels an inch
    assert page.evaluate(WIDER) == []
