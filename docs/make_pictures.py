"""Make every picture of the README and the guide anew: ``python docs/make_pictures.py``.

The page of a sample house is opened in headless Chromium, as a reader's browser would, and photographed.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from reconcile.answer import reconcile
from reconcile.read import read_house
from reconcile.report.html import render

ROOT = Path(__file__).parents[1]
PICTURES = {"report.png": ("fast_meter", 800, 1110)}
"""Name of the picture: sample house, width and height of the window [px]."""
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars",
)  # fmt: skip


def main() -> int:
    """Make the pictures; 2 where there is no browser."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if browser is None:
        sys.stderr.write("No Chromium is installed: the pictures were left as they are.\n")
        return 2
    with tempfile.TemporaryDirectory() as scratch:
        for name, (house, width, height) in PICTURES.items():
            page = Path(scratch, f"{house}.html")
            page.write_text(render(reconcile(read_house(ROOT / "sample_bills" / house))), encoding="utf-8")
            shot = ROOT / "docs" / name
            subprocess.run(
                [
                    browser, *FLAGS, f"--user-data-dir={scratch}/profile", f"--window-size={width},{height}",
                    f"--screenshot={shot}", page.as_uri(),
                ],
                check=True, capture_output=True, timeout=180,
            )  # fmt: skip
            sys.stdout.write(f"{shot.relative_to(ROOT)}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
