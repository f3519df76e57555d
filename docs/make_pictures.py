"""Make every picture of the README and the guide anew: ``python docs/make_pictures.py``.

Figures are drawn by the package from the sample houses. The page in the README is opened in headless Chromium, as a
reader's browser would, and photographed.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import reconcile
from reconcile import figures
from reconcile.report.drawn import drawing
from reconcile.report.drawn.field_figures import verdict_zones
from reconcile.report.pages.html import render

ROOT = Path(reconcile.__file__).parents[1]
DOCS = Path(__file__).parent
PAGES = {"report.png": ("fast_meter", 800, 1110)}
"""Name of the picture: sample house, width and height of the window [px]."""
FIGURES: dict[str, tuple[str, Callable[..., Any]]] = {
    "bills-of-new-load.png": ("new_load_in_may", figures.bills_against_bands),
    "where-kwh-go.png": ("cold_winter", figures.where_kwh_go),
    "causes-of-fast-meter.png": ("fast_meter", figures.cause_chances),
    "visible-meter-error.png": ("fast_meter", figures.visible_meter_error),
    "field-test-zones.png": ("fast_meter_checked", verdict_zones),
    "year-by-hour.png": ("hourly_data", figures.year_map),
    "tie-out.png": ("mistyped_bill", figures.tie_out_by_bill),
}
"""Name of the picture: sample house, and the figure drawn of its answer."""
DOTS_PER_INCH = 150
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars",
)  # fmt: skip


@cache
def answer_of(house: str) -> reconcile.Reconciliation:
    """Return the answer for a sample house."""
    return reconcile.reconcile(reconcile.read_house(ROOT / "sample_bills" / house))


def draw_figures(folder: Path) -> list[Path]:
    """Draw the figures of the guide into a folder."""
    made = []
    for name, (house, draw) in FIGURES.items():
        answer = answer_of(house)
        with drawing.settings():
            figure = draw(answer.field_test if draw is verdict_zones else answer).figure
            figure.savefig(folder / name, dpi=DOTS_PER_INCH, metadata={"Software": None}, bbox_inches="tight")
        made.append(folder / name)
    return made


def photograph(browser: str) -> list[Path]:
    """Photograph the pages of the README."""
    made = []
    with tempfile.TemporaryDirectory() as scratch:
        for name, (house, width, height) in PAGES.items():
            page, shot = Path(scratch, f"{house}.html"), DOCS / name
            page.write_text(render(answer_of(house)), encoding="utf-8")
            subprocess.run(
                [
                    browser, *FLAGS, f"--user-data-dir={scratch}/profile", f"--window-size={width},{height}",
                    f"--screenshot={shot}", page.as_uri(),
                ],
                check=True, capture_output=True, timeout=180,
            )  # fmt: skip
            made.append(shot)
    return made


def main() -> int:
    """Make the pictures; 2 where there is no browser."""
    made = draw_figures(DOCS / "pictures")
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if browser is None:
        sys.stderr.write("No Chromium is installed: the page of the README was left as it is.\n")
    else:
        made += photograph(browser)
    sys.stdout.writelines(f"{path.relative_to(DOCS)}\n" for path in made)
    return 0 if browser else 2


if __name__ == "__main__":
    sys.exit(main())
