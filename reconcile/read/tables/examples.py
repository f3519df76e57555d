"""The starter's own example rows: known wherever they come back, and never read as anybody's figures."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from reconcile.house import Bill
from reconcile.read.tables.cells import Cell, Row, Table, shown
from reconcile.read.tables.columns import Columns
from reconcile.read.tables.gate import Gate

MARK = "example, not read"
"""What the note of an example row begins with."""

EXAMPLES: dict[str, tuple[dict[str, str], ...]] = {
    "bills": (
        {"start": "2025-01-07", "end": "2025-02-06", "kwh": "812", "amount": "131.40", "read_type": "actual"},
        {"start": "2025-02-06", "end": "2025-03-07", "kwh": "744", "amount": "121.10", "read_type": "actual"},
        {"start": "2025-03-07", "end": "2025-04-06", "kwh": "690", "amount": "113.00", "read_type": "estimated"},
    ),
    "loads": (
        {"load": "Refrigerator", "count": "1"},
        {"load": "Lights", "count": "10", "watts": "9", "run_hours": "4", "source": "guessed"},
        {"load": "Clothes dryer", "count": "1", "watts": "5.4 kW", "run_hours": "3 h/week", "source": "nameplate"},
        {"load": "Television", "count": "1", "watts": "90", "run_hours": "4-6 h", "source": "measured"},
        {"load": "Dehumidifier", "count": "1", "kwh_per_year": "320", "months": "5-9", "source": "label"},
    ),
    "events": (
        {"date": "2025-02-01", "kind": "new-load", "load": "Portable heater"},
        {"date": "2025-03-08", "until": "2025-03-16", "kind": "guests"},
    ),
    "weather": (
        {"date": "2025-01-07", "mean": "-3.4"},
        {"date": "2025-01-08", "tmin": "-8.1", "tmax": "0.6"},
    ),
    "readings": (
        {"date": "2025-01-07", "value": "48211", "event": "check"},
        {"date": "2025-02-06", "value": "49023", "event": "check"},
    ),
}
"""By table, in order; every one carries :data:`MARK` in its note. All figures are invented."""

_MARKED = re.compile(r"(?:an\s+)?examples?\b", re.IGNORECASE)


def leave_examples(table: Table, spec: Columns, gate: Gate) -> None:
    """Take marked rows out of a table; one whose figures were changed is asked about, for it may be one's own."""
    if not table.has("note"):
        return
    own: list[Row] = []
    for row in table.rows:
        note = row.value("note")
        if not isinstance(note, str) or not _MARKED.match(note.strip()):
            own.append(row)
        elif any(_same(row, example, spec) for example in EXAMPLES.get(spec.table, ())):
            table.examples.append(row)
        else:
            gate.wrong(
                row["note"],
                f"the note marks this {spec.row_is} as an example, but its figures are not those of an example",
                f"If it is your own {spec.row_is}, clear its note. If not, delete the row.",
            )
            table.examples.append(row)
    table.rows[:] = own
    if table.examples:
        numbers = ", ".join(str(row.number) for row in table.examples)
        table.left.append(f"the example{'s' if len(table.examples) > 1 else ''} in row {numbers}")


def refuse_example_bills(bills: Sequence[Bill], table: Table, gate: Gate) -> None:
    """Refuse bills that are the starter's though nothing marks them any more."""
    for bill in bills:
        for example in EXAMPLES["bills"]:
            if (bill.start.isoformat(), bill.end.isoformat()) == (example["start"], example["end"]) and (
                bill.kwh == float(example["kwh"])
            ):
                gate.fault_in(
                    table,
                    f"this is the starter's example of {example['kwh']} kWh, not a bill of yours",
                    "Delete the row, or write your own bill in its place.",
                    row=bill.row,
                )


def _same(row: Row, example: Mapping[str, str], spec: Columns) -> bool:
    """Whether a row still has the figures of an example; its days may have been written anew by a spreadsheet."""
    for column in spec:
        if column.kind in ("day", "months") or column.name == "note":
            continue
        if not _alike(row[column.name], example.get(column.name, "")):
            return False
    return True


def _alike(cell: Cell, written: str) -> bool:
    """Whether a cell holds what was written into it, as text or as a number."""
    there = "" if cell.blank else shown(cell.value)
    if there.casefold() == written.casefold():
        return True
    try:
        return float(there.replace(",", ".")) == float(written)
    except ValueError:
        return False
