"""The report looked at in a browser without a window, at the widths of a phone and of a desk."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from html import escape, unescape
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from reconcile.answer import reconcile
from reconcile.read import read_house
from reconcile.report.html import render, snippet
from reconcile.result import Reconciliation

Make = Callable[..., Reconciliation]

pytestmark = pytest.mark.browser

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
]

LOOK = """<script>
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
parent.document.title = JSON.stringify({
  inner: innerWidth, scroll: document.documentElement.scrollWidth, wide, thin, small,
  images: [...document.images].map(i => [i.naturalWidth, i.getBoundingClientRect().width])});
</script>"""


def browse(*arguments: str, folder: Path) -> str:
    if BROWSER is None:
        pytest.skip("no browser is installed")
    command = [BROWSER, *FLAGS, f"--user-data-dir={folder / 'profile'}", *arguments]
    done = subprocess.run(command, check=True, capture_output=True, text=True, timeout=120)
    return done.stdout


def looked_at(page: str, width: int, folder: Path) -> dict[str, Any]:
    """Load the page in a frame of this width, measured by a script that only this copy lets run."""
    open_page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    frame = f'<iframe style="border:0;width:{width}px;height:900px" srcdoc="{escape(open_page + LOOK)}"></iframe>'
    path = folder / "page.html"
    path.write_text(f"<!DOCTYPE html><title>not yet</title><body style='margin:0'>{frame}", encoding="utf-8")
    dom = browse("--window-size=1300,1000", "--virtual-time-budget=5000", "--dump-dom", path.as_uri(), folder=folder)
    title = re.search(r"<title>(.*?)</title>", dom, re.DOTALL)
    assert title
    found: dict[str, Any] = json.loads(unescape(title[1]))
    return found


def assert_fits(page: str, width: int, folder: Path) -> None:
    seen = looked_at(page, width, folder)
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
def test_nothing_is_cut_or_too_small(make: Make, periods: int, loads: int, width: int, tmp_path: Path) -> None:
    assert_fits(render(make(periods, loads)), width, tmp_path)


@pytest.mark.parametrize("width", [390, 1280])
def test_words_without_a_space_do_not_widen_the_page(make: Make, width: int, tmp_path: Path) -> None:
    result = make(12, 3)
    long = "Refrigeratorandfreezerinthecellarbehindthestairs" * 3
    named = replace(
        result,
        house=replace(result.house, name=long),
        loads=tuple(replace(load, load=long) for load in result.loads),
        notices=(long,),
    )
    assert_fits(render(named), width, tmp_path)


def test_a_hostile_house_runs_nothing(hostile_answer: Reconciliation, tmp_path: Path) -> None:
    seen = looked_at(render(hostile_answer), 390, tmp_path)
    assert seen["scroll"] <= 390
    assert all(natural > 0 for natural, _ in seen["images"])


@cache
def page(sample: str) -> str:
    return render(reconcile(read_house(Path(__file__).parents[2] / "sample_bills" / sample)))


@pytest.mark.parametrize("width", [390, 760, 1280])
@pytest.mark.parametrize("sample", ["fast_meter", "hourly_data", "danger_sign"])
def test_sample_houses_fit(sample: str, width: int, tmp_path: Path) -> None:
    assert_fits(page(sample), width, tmp_path)


def test_the_page_as_written_shows_its_figures(make: Make, tmp_path: Path) -> None:
    from matplotlib.image import imread

    (tmp_path / "page.html").write_text(render(make()), encoding="utf-8")
    shot = tmp_path / "shot.png"
    browse("--window-size=390,3000", f"--screenshot={shot}", (tmp_path / "page.html").as_uri(), folder=tmp_path)
    pixels = np.asarray(imread(shot))[..., :3]
    vermillion = np.array([0xD5, 0x5E, 0x00]) / 255.0  # the triangles of the periods that are high
    assert (np.abs(pixels - vermillion).max(axis=2) < 0.02).sum() > 50


def test_the_snippet_fits_a_narrow_cell(make: Make, tmp_path: Path) -> None:
    page = f"<!DOCTYPE html><html><head><title>x</title></head><body style='margin:0'>{snippet(make())}</body></html>"
    seen = looked_at(page, 500, tmp_path)
    assert seen["scroll"] <= 500
    assert not seen["wide"]
