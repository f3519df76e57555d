"""A browser without a window: pages at a width, in the dark, in print, and what a script finds on them."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from html import escape, unescape
from pathlib import Path
from typing import Any

import pytest

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

DARK, LIGHT = (f"--blink-settings=preferredColorScheme={scheme}" for scheme in (0, 1))
"""As a person sets it for the whole device."""


def browse(*arguments: str, folder: Path) -> str:
    if BROWSER is None:
        pytest.skip("no browser is installed")
    command = [BROWSER, *FLAGS, f"--user-data-dir={folder / 'profile'}", *arguments]
    done = subprocess.run(command, check=True, capture_output=True, text=True, timeout=120)
    return done.stdout


def looked_at(page: str, script: str, width: int, folder: Path, *flags: str) -> Any:
    """Load the page in a frame of this width; what ``script`` makes of it, by a script that only this copy lets run.

    The script calls ``told(value)`` once.
    """
    open_page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    tell = "<script>function told(x) { parent.document.title = JSON.stringify(x); }</script>"
    inside = escape(f"{open_page}{tell}<script>{script}</script>")
    frame = f'<iframe style="border:0;width:{width}px;height:900px" srcdoc="{inside}"></iframe>'
    path = folder / "page.html"
    path.write_text(f"<!DOCTYPE html><title>not yet</title><body style='margin:0'>{frame}", encoding="utf-8")
    arguments = ("--window-size=1300,1000", "--virtual-time-budget=5000", "--dump-dom", *flags, path.as_uri())
    title = re.search(r"<title>(.*?)</title>", browse(*arguments, folder=folder), re.DOTALL)
    assert title
    return json.loads(unescape(title[1]))


def printed(page: Path, pdf: Path) -> None:
    """Print a page as a browser does."""
    browse("--no-pdf-header-footer", f"--print-to-pdf={pdf}", page.as_uri(), folder=page.parent)
