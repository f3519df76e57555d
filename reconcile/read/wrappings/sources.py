"""What a folder and a workbook both end in: the same tables under the same names."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import field
from pathlib import Path

from reconcile.read.tables.cells import Grid, Section
from reconcile.read.tables.gate import Gate
from reconcile.records import dataclass

TABLES = ("bills", "loads", "weather", "events", "readings", "charges")
"""Tables beside the settings, the interval data and the field test."""
ENDINGS = (".csv", ".txt", ".tsv", ".xml", ".xlsx", ".ods", ".gz", ".zip", ".parquet", ".xls", ".json", ".pdf")
"""Endings of interval data; a PDF is refused in words."""
BOOKS = (".xlsx", ".xlsm", ".ods", ".xls")
"""Endings of workbooks."""
TEXT_TABLES = (".csv", ".tsv", ".txt")
"""Endings a table may have: what is pasted from a web page into a text file has tabs between its columns."""


@dataclass(frozen=True, slots=True)
class IntervalFile:
    """A file of interval data that was found, not yet opened; or the sheet of a house's workbook."""

    name: str
    path: Path | None = None
    grid: Grid | None = None


@dataclass(slots=True)
class Sources:
    """Everything found, not yet judged."""

    name: str
    """Name of the folder or of the workbook without its ending."""
    settings: Section
    """Keys of ``house.toml`` or of the sheet ``house``; empty where there is none."""
    tables: dict[str, Grid] = field(default_factory=dict)
    """By the names of :data:`TABLES`."""
    interval: list[IntervalFile] = field(default_factory=list)
    """In the order of their file names."""
    field_test: Section | Grid | None = None
    """Keys of ``field_test.toml``, or the cells of the sheet ``field test``."""
    electrician: Grid | None = None
    """Cells of the electrician's own workbook, which may stand beside it."""
    more_bills: list[Grid] = field(default_factory=list)
    """Further tables of bills, such as one for each year."""
    unnamed: list[IntervalFile] = field(default_factory=list)
    """Files of other names that may hold interval data, where no file is called so."""
    tell_others: Callable[[Gate, Collection[str]], None] | None = None
    """Tells of the files that are left, once it is known which of the unnamed ones are read."""
    other: list[Grid] = field(default_factory=list)
    """Files or sheets of other names that were looked at and are no table of a house."""
