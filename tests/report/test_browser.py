"""The report looked at in a browser without a window, at the widths of a phone and of a desk."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from unicodedata import normalize

import numpy as np
import pytest
from browser import Browser
from pypdf import PdfReader

from reconcile.answer import reconcile
from reconcile.meter import judge_test
from reconcile.plan import plan_test
from reconcile.previsit import estimate
from reconcile.read import read_house
from reconcile.report.pages.field_record import record_html
from reconcile.report.pages.field_sheet import sheet_html
from reconcile.report.pages.html import render, snippet
from reconcile.report.pages.letter import letter_html
from reconcile.report.pages.local_page import Form, form_html, links_above
from reconcile.report.pages.previsit_sheet import sheet_html as previsit_html
from reconcile.result import Reconciliation

Make = Callable[..., Reconciliation]

BILLS = Path(__file__).parents[2] / "sample_bills"
SAMPLES = sorted(path.parent.name for path in BILLS.glob("*/bills.csv"))

pytestmark = pytest.mark.browser

LOOK = """
const wide = [...document.querySelectorAll('.reconcile *')].filter(e => {
  const box = e.getBoundingClientRect(), style = getComputedStyle(e);
  const beyond = box.right > innerWidth + 1 || box.left < -1;
  const spills = style.display !== 'inline' && e.clientWidth > 0 && e.scrollWidth > e.clientWidth + 1;
  return box.width > 0 && !e.closest('thead') && (beyond || spills);
}).map(e => e.outerHTML.slice(0, 120));
const thin = [...document.querySelectorAll('p, li, td, th, dd, dt, figcaption, caption, h1, h2')].filter(
  e => !e.closest('thead') && e.textContent.trim().length > 30 && e.getBoundingClientRect().width < 120
).map(e => e.outerHTML.slice(0, 120));
const small = [...document.querySelectorAll('p, li, td, th, dd, dt, figcaption')].filter(
  e => e.textContent.trim() && parseFloat(getComputedStyle(e).fontSize) < 13).map(e => e.textContent.slice(0, 60));
({
  inner: innerWidth, scroll: document.documentElement.scrollWidth, wide, thin, small,
  images: [...document.images].map(i => [i.naturalWidth, i.getBoundingClientRect().width])});
"""


def assert_fits(page: str, width: int, browser: Browser) -> None:
    seen = browser.looked_at(page, LOOK, width)
    assert seen["inner"] == width
    assert seen["scroll"] <= width
    assert not seen["wide"]
    assert not seen["thin"]
    assert not seen["small"]
    assert seen["images"]
    for natural, shown in seen["images"]:
        assert natural > 0
        assert shown >= 0.9 * min(natural, 340)  # print in a figure is not shrunk beyond reading


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize(("periods", "loads"), [(1, 1), (12, 8), (60, 30)])
def test_nothing_is_cut_or_too_small(make: Make, periods: int, loads: int, width: int, browser: Browser) -> None:
    assert_fits(render(make(periods, loads)), width, browser)


@pytest.mark.parametrize("width", [390, 1280])
def test_words_without_a_space_do_not_widen_the_page(make: Make, width: int, browser: Browser) -> None:
    result = make(12, 3)
    long = "Refrigeratorandfreezerinthecellarbehindthestairs" * 3
    named = replace(
        result,
        house=replace(result.house, name=long),
        loads=tuple(replace(load, load=long) for load in result.loads),
        notices=(long,),
    )
    assert_fits(render(named), width, browser)


def test_a_hostile_house_runs_nothing(hostile_answer: Reconciliation, browser: Browser) -> None:
    page = render(hostile_answer)
    unguarded = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    assert unguarded != page  # the page asks the browser to run nothing; without that, there is nothing to run
    seen = browser.looked_at(unguarded, LOOK, 390)
    assert seen["scroll"] <= 390
    assert all(natural > 0 for natural, _ in seen["images"])


@cache
def answer(sample: str) -> Reconciliation:
    return reconcile(read_house(BILLS / sample))


@cache
def page(sample: str) -> str:
    return render(answer(sample))


@pytest.mark.parametrize("width", [390, 760, 1280])
@pytest.mark.parametrize("sample", ["fast_meter", "hourly_data", "danger_sign"])
def test_sample_houses_fit(sample: str, width: int, browser: Browser) -> None:
    assert_fits(page(sample), width, browser)


@pytest.mark.parametrize("width", [390, 1280])
def test_the_record_of_a_field_test_fits(width: int, browser: Browser) -> None:
    house = read_house(BILLS / "fast_meter_checked")
    assert_fits(record_html(judge_test(house), house.field_test, house=house), width, browser)


def test_the_page_as_written_shows_its_figures(make: Make, browser: Browser) -> None:
    from matplotlib.image import imread

    pixels = np.asarray(imread(io.BytesIO(browser.shot(render(make()), 390, 3000))))[..., :3]
    vermillion = np.array([0xD5, 0x5E, 0x00]) / 255.0  # the triangles of the periods that are high
    assert (np.abs(pixels - vermillion).max(axis=2) < 0.02).sum() > 50


def test_the_snippet_fits_a_narrow_cell(make: Make, browser: Browser) -> None:
    page = f"<!DOCTYPE html><html><head><title>x</title></head><body style='margin:0'>{snippet(make())}</body></html>"
    seen = browser.looked_at(page, LOOK, 500)
    assert seen["scroll"] <= 500
    assert not seen["wide"]


TOPS = """
const box = e => { const b = e.getBoundingClientRect(); return [b.top + scrollY, b.bottom + scrollY]; };
({answer: box(document.querySelector('.answer, .danger')), picture: box(document.querySelector('img')),
      first: document.querySelector('.do') ? box(document.querySelector('.do')) : null});
"""
PHONE_HIGH = 844
"""A screen of 390 by 844 px is a common phone's."""


@pytest.mark.parametrize("sample", SAMPLES)
def test_a_phone_shows_the_answer_and_what_to_do_first_at_once_and_the_picture_soon(
    sample: str, browser: Browser
) -> None:
    seen = browser.looked_at(page(sample), TOPS, 390)
    assert seen["answer"][1] < PHONE_HIGH
    assert seen["picture"][1] < 1.5 * PHONE_HIGH
    if seen["first"]:
        assert seen["first"][1] < PHONE_HIGH


HEAD_POINTS = 14.4
"""Size of a printed heading where nothing makes the browser shrink the page [pt]."""


def read_with_sizes(paper: PdfReader, words: str) -> tuple[list[str], list[float]]:
    """Return the text of every page, and how large some words are printed [pt]."""
    found: list[float] = []

    def see(text: str, cm: list[float], tm: list[float], _: object, size: float) -> None:
        if text.strip() == words:
            found.append(abs(size * tm[0] * cm[0]))

    return [sheet.extract_text(visitor_text=see) for sheet in paper.pages], found


@pytest.mark.parametrize("sample", SAMPLES)
def test_the_first_five_parts_are_printed_on_two_pages(sample: str, browser: Browser) -> None:
    pages, heads = read_with_sizes(browser.printed(page(sample)), "What to say")
    reasons = answer(sample).verdict.reasons  # a sign of danger is the only reason there is
    last = next((reason for reason in reasons if reason.startswith("Is the meter fast?")), reasons[-1])
    assert heads == pytest.approx([HEAD_POINTS] * len(heads), abs=0.5)  # a browser shrinks all print of a page too wide
    assert heads
    where = [i for i, words in enumerate(pages) if last[:60] in " ".join(words.replace("\xa0", " ").split())]
    assert where[0] <= 1
    # what the screen folds away stands on paper
    text = " ".join(normalize("NFKC", " ".join(pages)).split())
    for step in answer(sample).verdict.next_steps:
        assert " ".join(normalize("NFKC", step.text).split())[:50] in text


AXE = os.environ.get("AXE", "")
"""Where axe.min.js of the npm package axe-core lies; ``.ci/run`` installs it."""
AXE_RUN = """
axe.run(document, {resultTypes: ['violations', 'incomplete']}).then(found => ({
  ran: found.passes.length,
  faults: found.violations.map(v => [v.id, v.impact, v.nodes.map(n => n.html.slice(0, 90))]),
  unsure: found.incomplete.map(v => [v.id, v.impact, v.nodes.length])}));
"""


@pytest.mark.skipif(not AXE and not os.environ.get("CI"), reason="AXE does not name axe.min.js")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("sample", SAMPLES)
def test_axe_finds_nothing_serious(sample: str, scheme: str, browser: Browser) -> None:
    seen = browser.looked_at(page(sample), Path(AXE).read_text(encoding="utf-8") + AXE_RUN, 390, scheme)
    assert seen["ran"] > 5
    assert not [fault for fault in seen["faults"] if fault[1] in ("serious", "critical")]


FORM = form_html(Form({"bills": "x" * 300}, dangers=("buzzing",), files=("bills/" + "x" * 100,), problems=("y" * 200,)))


@pytest.mark.parametrize("width", [390, 1280])
def test_the_form_of_the_local_page_fits(width: int, browser: Browser) -> None:
    seen = browser.looked_at(FORM.replace("<details", "<details open"), LOOK, width)
    assert seen["scroll"] <= width
    assert not [one for one in seen["wide"] if not one.startswith("<textarea")]
    assert not seen["small"]


@pytest.mark.skipif(not AXE and not os.environ.get("CI"), reason="AXE does not name axe.min.js")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("what", ["form", "answer"])
def test_axe_finds_nothing_serious_on_the_local_page(what: str, scheme: str, browser: Browser) -> None:
    shown = FORM if what == "form" else links_above(page("fast_meter"), "/answer/x")
    seen = browser.looked_at(shown, Path(AXE).read_text(encoding="utf-8") + AXE_RUN, 390, scheme)
    assert seen["ran"] > 5
    assert not [fault for fault in seen["faults"] if fault[1] in ("serious", "critical")]


@pytest.mark.skipif(not AXE and not os.environ.get("CI"), reason="AXE does not name axe.min.js")
@pytest.mark.parametrize("what", ["letter", "householder", "electrician", "previsit"])
def test_axe_finds_nothing_on_what_is_handed_on(what: str, browser: Browser) -> None:
    answer = reconcile(read_house(BILLS / "fast_meter"))
    made = {
        "letter": lambda: letter_html(answer),
        "householder": lambda: sheet_html(plan_test(answer), "householder"),
        "electrician": lambda: sheet_html(plan_test(answer), "electrician"),
        "previsit": lambda: previsit_html(estimate(answer.house, date(2026, 1, 1))),
    }[what]()
    seen = browser.looked_at(made, Path(AXE).read_text(encoding="utf-8") + AXE_RUN, 390, "light")
    assert seen["ran"] > 5
    assert not seen["faults"]


def test_in_the_dark_pictures_keep_their_colors_on_light_paper(browser: Browser) -> None:
    look = """({back: getComputedStyle(document.querySelector('main')).backgroundColor,
      looks: [...document.images].map(i => [getComputedStyle(i).filter, getComputedStyle(i).mixBlendMode])});"""
    seen = browser.looked_at(page("fast_meter"), look, 390, "dark")
    assert seen["back"] == "rgb(22, 25, 28)"
    assert seen["looks"]
    assert all(look == ["none", "normal"] for look in seen["looks"])
