"""Several houses in one table: a row a house, its answer in figures, for a spreadsheet to sort and filter."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reconcile.result import Reconciliation

COLUMNS = (
    "path",
    "house",
    "decision",
    "bills",
    "bills_over",
    "kwh_over",
    "amount_over",
    "currency",
    "meter_fast_probability",
    "smallest_visible_meter_error_percent",
    "headline",
    "written",
    "to_be_put_right",
)
_ACTIVE = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet program would take for a formula at the head of a text."""


def answered(path: Path, result: Reconciliation, written: Path | str) -> dict[str, Any]:
    """Return the row of a house that was weighed.

    Parameters
    ----------
    path : Path
        Of the house, as it was given.
    written : Path or str
        Folder of its answer; empty where nothing was written.

    Returns
    -------
    dict
        By the names of :data:`COLUMNS`.
    """
    data = result.to_dict()
    verdict = data["verdict"]
    over = verdict.get("over") or {}
    return {
        "path": str(path),
        "house": data["house"],
        "decision": str(verdict["decision"]),
        "bills": len(data["periods"]),
        "bills_over": over.get("bills"),
        "kwh_over": over.get("kwh"),
        "amount_over": over.get("amount"),
        "currency": data["currency"],
        "meter_fast_probability": verdict.get("meter_fast_probability"),
        "smallest_visible_meter_error_percent": verdict["smallest_visible_meter_error_percent"],
        "headline": verdict["headline"],
        "written": str(written),
    }


def refused(path: Path, problem: str) -> dict[str, Any]:
    """Return the row of a house that could not be weighed, with what is to be put right."""
    return {"path": str(path), "to_be_put_right": problem}


def table(rows: Sequence[dict[str, Any]]) -> bytes:
    r"""Return the rows as CSV; text that a spreadsheet would take for a formula stands behind an apostrophe.

    >>> table([{"path": "a", "house": "=1+1", "bills": 12}]).decode().splitlines()[1]
    "a,'=1+1,,12,,,,,,,,,"
    """
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([_cell(row.get(name)) for name in COLUMNS] for row in rows)
    return stream.getvalue().encode()


def _cell(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.6g}")
    return f"'{value}" if isinstance(value, str) and value.startswith(_ACTIVE) else value
