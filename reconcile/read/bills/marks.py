"""Marks behind figures, such as a star, and the lines below a table that say what they mean."""

from __future__ import annotations

import re

from reconcile.read.bills.how_read import ESTIMATE
from reconcile.read.tables.cells import Row, Table

_MARK = r"\*{1,3}|\u2020|\u2021|[\u00b9\u00b2\u00b3]|\(?\d\)|#"
_NOTE = re.compile(rf"row \d+ \((?P<mark>{_MARK})[\s=:-]*(?P<words>.*)\)")
_MARKED = re.compile(rf"(?P<figure>.*\d\S*?)\s?(?P<mark>{_MARK})")


def read_marks(table: Table) -> None:
    """Take the marks off figures where a line below the table explains them, and read those of estimates."""
    notes = {found["mark"]: found["words"] for line in table.left if (found := _NOTE.fullmatch(line))}
    if not notes:
        return
    estimates: list[int] = []
    for at, row in enumerate(table.rows):
        values, marks = list(row.values), set()
        for index, value in enumerate(values):
            text = value.strip() if isinstance(value, str) else ""
            found = _MARKED.fullmatch(text)
            if found is not None and found["mark"] in notes:
                values[index] = found["figure"]
                marks.add(found["mark"])
            elif text in notes:
                marks.add(text)
        if any(ESTIMATE.search(notes[mark]) for mark in marks):
            estimates.append(row.number)
        table.rows[at] = Row(table, row.number, tuple(values))
    if estimates and not table.has("read_type"):
        table.add_column("read_type", dict.fromkeys(estimates, "estimated"))
        rows = ", ".join(map(str, estimates))
        table.read_as.append(f"the mark in row {rows} says that the reading is estimated")
