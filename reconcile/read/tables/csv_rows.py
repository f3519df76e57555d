"""Text with a sign between its columns, as rows of cells with their lines."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence

from reconcile.read.tables.gate import Gate

SIGNS = (",", ";", "\t", "|")
"""What may stand between columns; the comma last where most lines have another one too: it may be a decimal sign."""


def csv_rows(
    text: str, sign: str, file: str, gate: Gate, first: int | None = 1, *, most: int | None = None
) -> tuple[list[tuple[int, list[str]]], bool]:
    """Return the rows that are not blank, and whether all of the text is proper CSV, which is a fault where it is not.

    Parameters
    ----------
    first : int or None
        Line of the file at which the text begins; None where that is not known, and rows count from 1.
    most : int or None
        Rows after which the rest is left.
    """
    rows: list[tuple[int, list[str]]] = []
    start, whole = first or 1, True
    while True:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=sign, strict=True, skipinitialspace=True)
        row = start
        try:
            for values in reader:
                if "".join(values).strip():
                    rows.append((row, values))
                row = start + reader.line_num
                if len(rows) == most:
                    break
            return rows, whole
        except csv.Error as error:
            gate.fault(
                f"this line is not proper CSV ({error})",
                "Check its quotes: a cell that holds a comma or a quote stands in double quotes.",
                file=file,
                row=row if first is not None else None,
            )
        whole = False
        behind = text.split("\n", row - start + 1)  # what stands below the line may be wrong too
        if first is None or len(behind) <= row - start + 1:
            return rows, False
        text, start = behind[-1], row + 1


def usual_sign(lines: Sequence[str]) -> str:
    """Return what separates the columns: the first sign that most of the lines have."""
    full = [line for line in lines if line.strip() and not line.startswith("sep=")]
    bare = [re.sub(r'"[^"]*"', "", line) if '"' in line else line for line in full]
    for sign in (*SIGNS[1:], SIGNS[0]):
        if bare and sum(sign in line for line in bare) >= 0.6 * len(bare):
            return sign
    return max(SIGNS, key=lambda sign: sum(sign in line for line in bare))
