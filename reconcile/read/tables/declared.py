"""The tables of ``columns.toml``, where every column is declared once: name, synonyms, unit, limits, default, words."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from reconcile.read.tables.columns import Column, Columns


def _tables() -> dict[str, Columns]:
    text = files("reconcile.read.tables").joinpath("columns.toml").read_text(encoding="utf-8")
    raw = tomllib.loads(text)
    shared = raw.pop("words")
    return {name: _table(name, table, shared) for name, table in raw.items()}


def _table(name: str, table: Mapping[str, Any], shared: Mapping[str, Mapping[str, str]]) -> Columns:
    columns = []
    for row in table["column"]:
        fields = dict(row)
        words = fields.pop("words", {})
        fields["words"] = shared[words] if isinstance(words, str) else words
        fields["other_names"] = fields.pop("also", "")
        columns.append(Column(**fields))
    return Columns(name, tuple(columns), table["spare"], table["row_is"])


TABLES = _tables()
BILLS, LOADS, WEATHER = TABLES["bills"], TABLES["loads"], TABLES["weather"]
EVENTS, READINGS, CHARGES = TABLES["events"], TABLES["readings"], TABLES["charges"]
