"""Sheets of an OpenDocument spreadsheet (ISO/IEC 26300), read without a library: cells as text."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence
from typing import Any

_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_TIME = re.compile(r"PT(\d+)H(\d+)M(\d+)")

DEEPEST = 100
"""Elements within elements (a guard)."""

MIMETYPE = b"application/vnd.oasis.opendocument.spreadsheet"


def ods_sheets(content: bytes, most_rows: int, most_columns: int) -> list[tuple[str, list[tuple[int, list[Any]]]]]:
    """Return the sheets of ``content.xml``: names, and rows with their numbers.

    Parameters
    ----------
    content : bytes
    most_rows, most_columns : int
        Rows and columns beyond which the rest is left out; cells that are repeated without text are not counted out.

    Returns
    -------
    list of (str, list of (int, list))

    Raises
    ------
    ValueError
        Where it declares a document type, or nests too deep.
    """
    from defusedxml.ElementTree import iterparse

    found: list[tuple[str, list[tuple[int, list[Any]]]]] = []
    name, number, depth = "", 1, 0
    rows: list[tuple[int, list[Any]]] = []
    for event, element in iterparse(io.BytesIO(content), events=("start", "end"), forbid_dtd=True):
        depth += 1 if event == "start" else -1
        if depth > DEEPEST:
            raise ValueError("its parts stand too deep in one another")
        if event == "start" and element.tag == f"{_TABLE}table":
            name, rows, number = element.get(f"{_TABLE}name", ""), [], 1
        elif event == "end" and element.tag == f"{_TABLE}table-row":
            cells = _without_tail(list(_cells(element, most_columns)))
            repeated = _repeated(element, "number-rows-repeated")
            for at in range(min(repeated, most_rows - len(rows)) if cells else 0):
                rows.append((number + at, cells))
            number += repeated
            element.clear()
        elif event == "end" and element.tag == f"{_TABLE}table":
            found.append((name, rows))
            element.clear()
    return found


def _cells(row: Any, most: int) -> Iterator[Any]:
    count = 0
    for cell in row:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        value = _value(cell)
        for _ in range(min(_repeated(cell, "number-columns-repeated"), most - count)):
            count += 1
            yield value


def _repeated(element: Any, name: str) -> int:
    text = element.get(f"{_TABLE}{name}", "1")
    return int(text) if text.isdigit() and len(text) < 8 else 1


def _value(cell: Any) -> str:
    kind = cell.get(f"{_OFFICE}value-type")
    if kind in ("float", "percentage", "currency"):
        return str(cell.get(f"{_OFFICE}value", ""))
    if kind == "date":
        return str(cell.get(f"{_OFFICE}date-value", "")).replace("T", " ")
    if kind == "time":
        found = _TIME.match(cell.get(f"{_OFFICE}time-value", ""))
        return ":".join(f"{int(part):02d}" for part in found.groups()) if found else ""
    return "\n".join("".join(part.itertext()) for part in cell.findall(f"{_TEXT}p"))


def _without_tail(cells: Sequence[Any]) -> list[Any]:
    last = max((at for at, cell in enumerate(cells) if cell), default=-1)
    return list(cells[: last + 1])
