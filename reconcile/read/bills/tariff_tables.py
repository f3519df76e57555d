"""The ``[[tariff]]`` tables: dated lists of charges, or the shorthand for the common case."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any, get_args

from reconcile.house.tariff import Basis, Block, Charge, Kind, Tariff, Window
from reconcile.read.tables.cells import Cell, Section, nearest, or_list, plain_name, shown
from reconcile.read.tables.gate import Gate

SHORTHAND = ("fixed_per_bill", "fixed_per_day", "energy", "tax_percent")
TARIFF = ("valid_from", "charge", "minimum_per_bill", "round", "block_round", "name", "note", *SHORTHAND)
PLAIN: tuple[Basis, ...] = ("per_bill", "per_day", "per_kwh", "percent", "per_kw", "export_credit_per_kwh")
BASES = (*PLAIN, "blocks", "windows", "values")
CHARGE = ("name", *BASES, "on", "months", "applies", "kind", "round", "note")
BLOCK = ("up_to_per_day", "up_to_per_bill", "price")
WINDOW = ("name", "days", "hours", "months", "price")
APPLIES = ("service", "read_date", "bill_date")
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MOST_TARIFFS = 100
MOST_CHARGES = 100
MOST_PLACES = 6
MOST_PERCENT, MOST_A_KWH, MOST_A_BILL = Decimal(1000), Decimal(10) ** 6, Decimal(10) ** 9
"""Largest percentage, price a kWh (or kW, or day) and price a bill, in any currency (guards, common practice)."""

_HOURS = re.compile(r"(\d{1,2})(?::([0-5]\d))?\s*-\s*(\d{1,2})(?::([0-5]\d))?", re.ASCII)


def read_tariffs(
    tables: Sequence[Section | Mapping[str, Any]], gate: Gate, file: str = "house.toml"
) -> tuple[Tariff, ...]:
    """Read the price periods, in order of their first day.

    Parameters
    ----------
    tables : sequence of Section or mapping
        The ``[[tariff]]`` tables.
    file : str
        Where they stand, for tables that do not say so themselves.
    """
    sections = [
        t if isinstance(t, Section) else Section(t, file, f"tariff[{n}]") for n, t in enumerate(tables, start=1)
    ]
    if len(sections) > MOST_TARIFFS:
        gate.wrong(sections[0].cell, f"there are more than {MOST_TARIFFS} tariffs", "Keep those of these bills.")
        return ()
    made = [(s, t) for s in sections if (t := _tariff(s, gate, alone=len(sections) == 1)) is not None]
    made.sort(key=lambda pair: pair[1].valid_from)
    for (_, before), (section, after) in pairwise(made):
        if before.valid_from == after.valid_from:
            gate.wrong(section["valid_from"], "two tariffs begin on the same day", "Keep one, or correct the day.")
    return tuple(t for _, t in made)


def _tariff(section: Section, gate: Gate, *, alone: bool) -> Tariff | None:
    gate.keys(section, TARIFF)
    valid_from = gate.day(section["valid_from"], needed=not alone)
    places = gate.number_or(section["round"], 2.0, low=0.0, high=MOST_PLACES, whole=True)
    block_places = gate.number_or(section["block_round"], 0.0, low=0.0, high=MOST_PLACES, whole=True)
    minimum = gate.money(section["minimum_per_bill"], low=Decimal(0))
    short = [key for key in SHORTHAND if not section[key].blank]
    if short and not section["charge"].blank:
        gate.wrong(
            section[short[0]],
            "a tariff has either a list of charges or the short form",
            "Write it as one of the [[tariff.charge]] tables, or take those out.",
        )
        return None
    charges = _short(section, gate, int(places)) if short else _charges(section, gate, int(places))
    if not charges:
        if not short and section["charge"].blank:
            gate.wrong(section.cell, "this tariff has no charge", "Add energy = 0.148, or [[tariff.charge]] tables.")
        return None
    return Tariff(valid_from or date.min, charges, minimum, int(block_places))


def _short(section: Section, gate: Gate, places: int) -> tuple[Charge, ...]:
    out: list[Charge] = []
    for key, name, basis in (
        ("fixed_per_bill", "Fixed charge", "per_bill"),
        ("fixed_per_day", "Fixed charge a day", "per_day"),
        ("energy", "Energy", "per_kwh"),
        ("tax_percent", "Tax", "percent"),
    ):
        price = _price(section[key], basis, gate)
        if price is not None:
            kind: Kind = "tax" if basis == "percent" else "energy" if basis == "per_kwh" else "fixed"
            out.append(Charge(name, basis, price, kind=kind, places=places))  # type: ignore[arg-type]
    return tuple(out)


def _charges(section: Section, gate: Gate, places: int) -> tuple[Charge, ...]:
    sections = section.sections("charge", gate)
    if len(sections) > MOST_CHARGES:
        gate.wrong(section["charge"], f"there are more than {MOST_CHARGES} charges", "Join those of one price.")
        return ()
    out: list[Charge] = []
    for item in sections:
        charge = _charge(item, gate, places, {c.name.casefold() for c in out})
        if charge is None:
            continue
        if any(_clash(charge, other) for other in out):
            gate.wrong(
                item["name"],
                "two charges have this name",
                "Give each its own; only seasons of one charge share it, each with its own months.",
            )
        out.append(charge)
    return tuple(out)


def _clash(one: Charge, other: Charge) -> bool:
    """Whether two charges of one name are not two seasons of the same charge."""
    if one.name.casefold() != other.name.casefold():
        return False
    alike = one.name == other.name and one.basis == other.basis and one.kind == other.kind
    return not alike or one.months is None or other.months is None or bool(one.months & other.months)


def _charge(section: Section, gate: Gate, places: int, above: set[str]) -> Charge | None:
    gate.keys(section, CHARGE)
    name = gate.text(section["name"], needed=True)
    given = [key for key in BASES if not section[key].blank]
    if len(given) != 1:
        gate.wrong(
            section.cell,
            "a charge needs exactly one price"
            if not given
            else f"this charge has {or_list(given).replace(' or ', ' and ')} at once",
            f"Keep one of {or_list(BASES)}.",
        )
        return None
    key = given[0]
    months = gate.months(section["months"])
    applies = gate.choice(section["applies"], APPLIES, default="service")
    own_places = int(gate.number_or(section["round"], float(places), low=0.0, high=MOST_PLACES, whole=True))
    basis: Basis = "per_kwh"
    price: Decimal | None = None
    values: tuple[tuple[date, Decimal], ...] = ()
    blocks: tuple[Block, ...] = ()
    windows: tuple[Window, ...] = ()
    per = "bill"
    if key == "blocks":
        basis = "blocks"
        blocks, per = _blocks(section, gate)
    elif key == "windows":
        basis, windows = "windows", _windows(section, gate)
    elif key == "values":
        basis, values = _values(section, gate)
    else:
        basis = key  # type: ignore[assignment]
        price = _price(section[key], key, gate)
    on = _on(section, gate, basis, above)
    kinds: tuple[Kind, ...] = get_args(Kind)
    kind = gate.choice(section["kind"], kinds, default=usual_kind(basis, name or ""))
    if name is None or not (price is not None or values or blocks or windows):
        return None
    return Charge(
        name,
        basis,
        price,
        values,
        on,
        blocks,
        "day" if per == "day" else "bill",
        windows,
        months,
        applies,  # type: ignore[arg-type]
        kind,
        own_places,
    )


def usual_kind(basis: Basis, name: str) -> Kind:
    """Return how a charge is told of in the money bridge where its kind is not given.

    Examples
    --------
    >>> usual_kind("percent", "City tax"), usual_kind("per_day", "Service"), usual_kind("percent", "Fuel")
    ('tax', 'fixed', 'rider')
    """
    if basis in ("per_bill", "per_day"):
        return "fixed"
    if basis == "percent":
        return "tax" if re.search(r"tax|vat|gst|hst", name.casefold()) else "rider"
    return "energy"


def _price(cell: Cell, basis: str, gate: Gate, *, needed: bool = False) -> Decimal | None:
    price = gate.money(cell, needed=needed)
    most = MOST_PERCENT if basis == "percent" else MOST_A_BILL if basis == "per_bill" else MOST_A_KWH
    if price is not None and abs(price) > most:
        gate.wrong(cell, f"no tariff charges more than {most} here", "Check the figure and its decimal point.")
        return None
    return price


def _on(section: Section, gate: Gate, basis: Basis, above: set[str]) -> tuple[str, ...] | None:
    cell = section["on"]
    if cell.blank:
        return None
    if basis != "percent":
        gate.wrong(cell, "only a percentage is taken on other lines", "Take it out, or write percent = 5.0.")
        return None
    names = cell.value if isinstance(cell.value, list) else [cell.value]
    for name in names:
        if not isinstance(name, str) or name.casefold() not in above:
            near = nearest(shown(name), sorted(above))
            guess = f"Did you mean {near}? " if near else ""
            gate.wrong(
                Cell(name, cell.file, cell.column, cell.row, cell.sheet),
                "no charge above has this name",
                f'{guess}Write on = ["Energy"] with names of charges that stand above this one.',
            )
    return tuple(str(name) for name in names)


def _items(section: Section, key: str, gate: Gate, known: Sequence[str]) -> list[Section]:
    items = section.sections(key, gate)
    for item in items:
        gate.keys(item, known)
    return items


def _blocks(section: Section, gate: Gate) -> tuple[tuple[Block, ...], str]:
    items = _items(section, "blocks", gate, BLOCK)
    out: list[Block] = []
    used = {key for item in items for key in BLOCK[:2] if not item[key].blank}
    per = "day" if "up_to_per_day" in used else "bill"
    if len(used) > 1:
        gate.wrong(section["blocks"], "limits are by day or by bill, not both", "Use one of the two for all blocks.")
    below = Decimal(0)
    for n, item in enumerate(items, start=1):
        price = _price(item["price"], "blocks", gate, needed=True)
        cell = item[f"up_to_per_{per}"]
        limit = gate.money(cell, low=Decimal(0))
        if limit is None and cell.blank and n < len(items):
            gate.wrong(item.cell, "only the last block has no limit", "Add its up_to_per_day or up_to_per_bill.")
        if limit is not None:
            if n == len(items):
                gate.wrong(
                    cell,
                    "the last block has no limit",
                    "Take the limit out, or add one more block behind it, without a limit.",
                )
            if limit <= below:
                gate.wrong(cell, "a block ends above the one before it", "Write the limits from low to high.")
            below = limit
        if price is not None:
            out.append(Block(price, limit))
    return tuple(out), per


def _values(section: Section, gate: Gate) -> tuple[Basis, tuple[tuple[date, Decimal], ...]]:
    items = _items(section, "values", gate, ("from", *PLAIN))
    out: list[tuple[date, Decimal]] = []
    bases: set[Basis] = set()
    for item in items:
        since = gate.day(item["from"], needed=True)
        given = [key for key in PLAIN if not item[key].blank]
        if len(given) != 1:
            gate.wrong(item.cell, "a value needs its day and one price", f"Keep one of {or_list(PLAIN)}.")
            continue
        bases.add(given[0])
        price = _price(item[given[0]], given[0], gate)
        if since is not None and price is not None:
            out.append((since, price))
    if len(bases) > 1:
        gate.wrong(section["values"], f"the values are {or_list(sorted(bases))}", "Use one of them throughout.")
    days = [since for since, _ in out]
    if len(set(days)) < len(days):
        gate.wrong(section["values"], "two values begin on the same day", "Keep one.")
    return (next(iter(sorted(bases)), "per_kwh"), tuple(sorted(out)))


def _windows(section: Section, gate: Gate) -> tuple[Window, ...]:
    out: list[Window] = []
    for item in _items(section, "windows", gate, WINDOW):
        name = gate.text(item["name"], needed=True)
        price = _price(item["price"], "windows", gate, needed=True)
        weekdays, months = _weekdays(item["days"], gate), gate.months(item["months"])
        spans = _hours(item["hours"], gate)
        if name is not None and price is not None:
            out += [Window(name, price, weekdays, hours, months) for hours in spans]
    free = uncovered(out)
    if out and free is not None:
        gate.wrong(
            section["windows"],
            f"no window covers {free}",
            "Let the last window have only a name and a price: it takes the rest.",
        )
    return tuple(out)


def _weekdays(cell: Cell, gate: Gate) -> frozenset[int] | None:
    """Read ``mon-fri``, ``sat,sun``, ``weekdays`` or ``weekends``."""
    if cell.blank:
        return None
    out: set[int] = set()
    for part in str(cell.value).casefold().replace("weekdays", "mon-fri").replace("weekends", "sat-sun").split(","):
        ends = [plain_name(end)[:3] for end in part.split("-")]
        if len(ends) > 2 or any(end not in WEEKDAYS for end in ends):
            gate.wrong(cell, "these are not days of the week", "Write days as mon-fri or sat,sun.")
            return None
        first, last = WEEKDAYS.index(ends[0]), WEEKDAYS.index(ends[-1])
        out.update((first + n) % 7 for n in range((last - first) % 7 + 1))
    return frozenset(out)


def _hours(cell: Cell, gate: Gate) -> list[tuple[float, float] | None]:
    """Read ``16-21``, ``21:30-6`` or ``7-11,17-21`` as spans of the clock."""
    if cell.blank:
        return [None]
    out: list[tuple[float, float] | None] = []
    for part in str(cell.value).split(","):
        match = _HOURS.fullmatch(part.strip())
        span = None
        if match:
            span = (int(match[1]) + int(match[2] or 0) / 60, int(match[3]) + int(match[4] or 0) / 60)
        if span is None or max(span) > 24 or span[0] == span[1] or span[0] == 24:
            gate.wrong(cell, "these are not hours of the day", "Write hours as 16-21, from 0 to 24.")
            return [None]
        out.append(span)
    return out


def uncovered(windows: Sequence[Window]) -> str | None:
    """Name an hour that no window covers; None where all are.

    Examples
    --------
    >>> uncovered([Window("peak", Decimal("0.38"), hours=(16.0, 21.0))])
    '00:00 on mon in month 1'
    """
    edges = sorted({0.0, *(edge for w in windows if w.hours is not None for edge in w.hours if edge < 24)})
    for month in range(1, 13):
        for weekday in range(7):
            for hour in edges:
                if not any(_covers(w, month, weekday, hour) for w in windows):
                    clock = f"{int(hour):02d}:{round(hour % 1 * 60):02d}"
                    return f"{clock} on {WEEKDAYS[weekday]} in month {month}"
    return None


def _covers(window: Window, month: int, weekday: int, hour: float) -> bool:
    if window.months is not None and month not in window.months:
        return False
    if window.weekdays is not None and weekday not in window.weekdays:
        return False
    if window.hours is None:
        return True
    since, until = window.hours
    return since <= hour < until if since < until else hour >= since or hour < until
