"""Marks behind figures, such as a star, and the lines below a table that say what they mean."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reconcile.read.tables.cells import Row, Table

_MARK = r"\*{1,3}|\u2020|\u2021|[\u00b9\u00b2\u00b3]|\(?\d\)|#"
_NOTE = re.compile(rf"row \d+ \((?P<mark>{_MARK})[\s=:-]*(?P<words>.*)\)")
_MARKED = re.compile(rf"(?P<figure>.*\d\S*?)\s?(?P<mark>{_MARK})")
_ESTIMATE = re.compile(r"\best(?:\.|imate|imated|imation)?(?!\w)", re.IGNORECASE)


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
        if any(_ESTIMATE.search(notes[mark]) for mark in marks):
            estimates.append(row.number)
        table.rows[at] = Row(table, row.number, tuple(values))
    if estimates and not table.has("read_type"):
        table.add_column("read_type", dict.fromkeys(estimates, "estimated"))
        rows = ", ".join(map(str, estimates))
        table.read_as.append(f"the mark in row {rows} says that the reading is estimated")


def of_ones(table: Table, index: int, words: Sequence[str]) -> bool:
    """Take 1 and 0 under ``Estimated`` for yes and no; whether it was so."""
    name = table.names[index]
    if {*words} != {"0", "1"} or not _ESTIMATE.match(name):
        return False
    ones = [row.number for row in table.rows if index < len(row.values) and str(row.values[index]).strip() == "1"]
    table.add_column("read_type", dict.fromkeys(ones, "estimated"))
    table.now_read(name)
    table.read_as.append(f"a 1 under {name} is an estimated reading")
    return True
