"""What a starter offers in each of its tables: columns, examples that are never read, and kinds of load to count."""

from __future__ import annotations

from reconcile.loads.handbook import find
from reconcile.read.tables.examples import EXAMPLES, MARK
from reconcile.texts.starter_words import GROUPS, typical

COLUMNS: dict[str, tuple[str, ...]] = {
    "bills": (
        *("start", "end", "kwh", "amount", "read_type", "reading_start", "reading_end", "bill_type", "days"),
        *("mean_temperature", "note"),
    ),
    "loads": (
        *("load", "count", "note", "watts", "run_hours", "share_on", "standby_watts", "kwh_per_year", "follows"),
        *("months", "from", "until", "source"),
    ),
    "events": ("date", "until", "kind", "load", "note"),
    "weather": ("date", "mean", "tmin", "tmax", "note"),
    "readings": ("date", "value", "type", "event", "meter", "note"),
}
"""Columns that the starter offers, of those declared; the others may be added."""


def rows_of(table: str) -> list[dict[str, str]]:
    """Return the rows the starter puts below the heading of a table: examples, and kinds of load to count."""
    rows = [{**example, "note": MARK} for example in EXAMPLES[table]]
    if table == "loads":
        for group, kinds in GROUPS.items():
            for name in kinds:
                kind = next(found for found in find(name) if found.load == name)
                usual = typical(
                    kind.watts_low, kind.watts, kind.watts_high, kind.run_hours, kind.share_on, kind.follows
                )
                rows.append({"load": name, "count": "0", "note": f"{group}; {usual}"})
    return rows
