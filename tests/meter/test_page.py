"""The page on the field test says what the code takes for granted."""

from __future__ import annotations

from pathlib import Path

from reconcile.meter.field_defaults import DEFAULTS
from reconcile.texts.safety import SOURCES

DOCS = Path(__file__).parents[2] / "docs"


def test_every_default_is_on_the_page():
    page = (DOCS / "field-test.md").read_text(encoding="utf-8")
    for name, default in DEFAULTS.items():
        row = next((line for line in page.splitlines() if line.startswith(f"| `{name}` |")), "")
        assert f"| {default.value:g}" in row, name
        assert "common practice" in default.source


def test_every_source_of_a_caution_is_on_the_page():
    page = (DOCS / "safety.md").read_text(encoding="utf-8")
    for source in SOURCES:
        assert source.source in page, source.source
