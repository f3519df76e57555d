"""The household's diary."""

from __future__ import annotations

from reconcile.house import Event, Load
from reconcile.read.bounds import MOST_EVENTS
from reconcile.read.cells import Row, Table
from reconcile.read.declared import EVENTS
from reconcile.read.gate import Gate
from reconcile.read.near_names import listed_name

COLUMNS = EVENTS.names
KINDS = EVENTS["kind"].codes


def read_events(table: Table, gate: Gate, loads: tuple[Load, ...]) -> tuple[Event, ...]:
    """Read the diary in order of its days; a load it names should be one of ``loads``."""
    if not gate.has_needed(table, EVENTS):
        return ()
    if len(table.rows) > MOST_EVENTS:
        gate.fault(
            f"there are more than {MOST_EVENTS} lines",
            "Shorten the diary.",
            file=table.file,
            sheet=table.sheet,
        )
        return ()
    names = [load.name for load in loads]
    found = [_event(row, gate, names) for row in table.rows]
    return tuple(sorted((e for e in found if e is not None), key=lambda e: (e.day, e.row or 0)))


def _event(row: Row, gate: Gate, names: list[str]) -> Event | None:
    day, until = gate.day(row["date"], needed=True), gate.day(row["until"])
    if day is not None and until is not None and until < day:
        gate.wrong(row["until"], "this ends before it begins", "Check date and until.")
    kind = gate.choice(row["kind"], KINDS, needed=True, words=EVENTS["kind"])
    load = gate.text(row["load"])
    if load is not None:
        listed = listed_name(row["load"], load, names, gate, "the list of loads")
        if listed is None:
            gate.notice(f"The diary names {load}, which is not in the list of loads.")
        load = listed or load
    note = gate.text(row["note"]) or ""
    return None if day is None or kind is None else Event(day, kind, until, load, note, row.number)
