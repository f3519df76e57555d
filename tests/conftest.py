"""Drawn examples are the same at every run; `--hypothesis-profile=search` draws new ones, many more of them."""

from __future__ import annotations

import gc
import pickle
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser import BROWSER, Browser
from hypothesis import HealthCheck, settings

SLOW = (HealthCheck.too_slow,)
"""How fast examples are drawn says something of the machine, nothing of the program."""

settings.register_profile("same", derandomize=True, database=None, deadline=None, suppress_health_check=SLOW)
settings.register_profile(
    "search", derandomize=False, deadline=None, max_examples=1000, print_blob=True, suppress_health_check=SLOW
)
settings.load_profile("same")


def pytest_collection_finish(session: pytest.Session) -> None:
    """Leave what was collected out of every later search for cycles: nine thousand tests stay to the end."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000)


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """Return a browser, started once for all pages."""
    if BROWSER is None:
        pytest.skip("no browser is installed")
    started = Browser(tmp_path_factory.mktemp("browser"))
    yield started
    started.close()


@pytest.fixture(scope="session")
def office(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., None]:
    """Return what lets LibreOffice save files as another kind into a folder; its own settings are made once."""
    profile = tmp_path_factory.mktemp("office").as_uri()

    def saved_as(kind: str, folder: Path, *files: Path) -> None:
        if shutil.which("soffice") is None:
            pytest.skip("no LibreOffice")
        command = ["soffice", "--headless", f"-env:UserInstallation={profile}", "--convert-to", kind, "--outdir"]
        subprocess.run([*command, str(folder), *map(str, files)], check=True, capture_output=True, timeout=120)

    return saved_as


DRAWN: dict[tuple[str, bytes], str | bytes] = {}


@pytest.fixture
def drawn_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw each answer once for all tests that are about files: the same answer gives the same bytes."""
    from reconcile.report.pages import html
    from reconcile.report.workbooks import answer_workbook

    def once(module: object, name: str) -> None:
        draw = getattr(module, name)

        def drawn(result: object) -> str | bytes:
            key = (name, pickle.dumps(result))
            if key not in DRAWN:
                DRAWN[key] = draw(result)
            return DRAWN[key]

        monkeypatch.setattr(module, name, drawn)

    once(html, "render")
    once(answer_workbook, "workbook_bytes")
