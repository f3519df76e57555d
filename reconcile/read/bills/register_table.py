"""``readings.csv``: dated register values, of one meter or of several."""

from __future__ import annotations

from reconcile.house import ReadType, RegisterReading
from reconcile.read.tables.cells import Row, Table
from reconcile.read.tables.declared import READINGS
from reconcile.read.tables.gate import Gate

COLUMNS = READINGS.names
TYPES: tuple[ReadType, ...] = ("actual", "estimated", "customer")
EVENTS = READINGS["event"].codes
MOST_READINGS = 20_000
"""Rows; more is interval data in the wrong file (common practice)."""
LARGEST_READING = 1e9


def read_registers(table: Table, gate: Gate) -> tuple[RegisterReading, ...]:
    """Read the register values in order of their days; ``register`` is ``total`` where nothing is written.

    ``event`` is ``removed`` for an old meter's last reading, ``installed`` for a new one's first,
    ``exchange`` for a row that only tells of the day, ``check`` for a reading taken between bills.
    """
    if not gate.has_needed(table, READINGS):
        return ()
    if len(table.rows) > MOST_READINGS:
        gate.fault(
            f"there are more than {MOST_READINGS} readings",
            "Put readings of every hour or so into interval.csv.",
            file=table.file,
            sheet=table.sheet,
        )
        return ()
    found = [r for row in table.rows if (r := _reading(row, gate)) is not None]
    seen: dict[tuple[object, ...], RegisterReading] = {}
    for r in found:
        first = seen.setdefault((r.day, r.meter, r.register.casefold(), r.event), r)
        if first.value != r.value:
            gate.fault(
                f"this register has another value on the same day in row {first.row}",
                "Keep the right one; for an exchange write the two meters' numbers.",
                file=table.file,
                sheet=table.sheet,
                row=r.row,
                column="value",
                read=f"{r.value:g}",
            )
    return tuple(sorted(found, key=lambda r: (r.day, r.event == "installed", r.row or 0)))


def _reading(row: Row, gate: Gate) -> RegisterReading | None:
    day = gate.day(row["date"], needed=True)
    value = gate.number(row["value"], unit="kWh", low=0.0, high=LARGEST_READING, needed=True)
    kind = gate.choice(row["type"], TYPES, default="actual", words=READINGS["type"])
    event = gate.choice(row["event"], EVENTS, words=READINGS["event"])
    meter, register = gate.text(row["meter"]), gate.text(row["register"]) or "total"
    if day is None or value is None:
        return None
    return RegisterReading(day, value, meter, register, kind, event, row.number)
