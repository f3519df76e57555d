"""Drawn examples are the same at every run; `--hypothesis-profile=search` draws new ones, many more of them."""

from __future__ import annotations

import gc
from collections.abc import Iterator

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
