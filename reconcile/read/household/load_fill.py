"""What a line of the load inventory leaves out: the handbook by its name; ranges as limits; coolers by BTU/h."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from dataclasses import field, replace

from reconcile.house import Follows, House, Load
from reconcile.house.outdoors import SOUTHERN
from reconcile.loads.handbook import TypicalLoad, find, handbook
from reconcile.loads.limits import HOUSEHOLD_HOURS_PERCENT, by_name_percent
from reconcile.loads.reference import household_factor
from reconcile.read.tables.cells import Cell
from reconcile.read.tables.gate import Gate
from reconcile.read.values import numbers
from reconcile.read.values.month_names import months, months_named, turned
from reconcile.records import dataclass

TYPICAL_EER = 10.0
"""BTU/h a watt of a cooler whose own is not written: window units 9 to 12, central ones 10 to 14 (from memory)."""
TYPICAL_EER_WITHIN_PERCENT = 25.0
"""95 % limit of that (our own judgement from the range)."""
BTU_A_TON = 12_000.0
"""BTU/h in one ton of refrigeration (its definition)."""
MOVES_HEAT = "heat pump heating"
"""A kind that draws in the cold about what it does when it cools by the size it is sold by (from memory)."""
RESISTANCE = ("baseboard heater", "portable heater", "strip heat", "electric furnace")
"""Kinds of the handbook that turn every watt into heat, so that BTU/h and watts tell the same."""

_RANGE = re.compile(
    r"(?P<low>[^-–]*?\d[\d.,]*)\s*(?P<unit1>[A-Za-z/ ]*?)\s*(?:-|–|\bto\b)\s*(?P<high>\d[\d.,]*)\s*(?P<unit>.*)"
)
_EXPONENT = re.compile(r"[\d.,]+[eE]-\d+.*")
"""1.5e-3 goes from nowhere to nowhere."""
_A_DAY = re.compile(r"[\d.,\s]+(?:h|hrs?|hours?|min|mins|minutes)\.?", re.IGNORECASE)
_BTU = re.compile(
    r"(?P<number>[\d.,' ]*\d)\s*(?P<kilo>k)?\s*(?P<unit>btu(?:s|h|u)?(?:\s*(?:/|per)\s*(?:h|hr|hour))?|tons?)\b\s*,?\s*"
    r"(?:at|@|with)?\s*(?:s?eer2?\s*(?:of|=|:)?\s*(?P<eer>[\d.]+)|(?P<eer2>[\d.]+)\s*s?eer2?)?\s*",
    re.IGNORECASE,
)


@dataclass(slots=True)
class Filled:
    """What was filled in for the loads of one table, for its notice."""

    told: list[str] = field(default_factory=list)
    sources: list[str] = field(default_factory=list)

    def add(self, load: Load, kind: TypicalLoad, parts: Sequence[str]) -> None:
        """Note one load, the kind it was taken for, and what was filled in."""
        as_kind = "" if kind.load.casefold() == load.name.casefold() else f" (as {kind.load})"
        self.told.append(f"{load.name}{as_kind} {', '.join(parts)}")
        if kind.watts_status == "read" and load.watts == kind.watts and kind.source not in self.sources:
            self.sources.append(kind.source)

    def tell(self, place: str, gate: Gate) -> None:
        """Say it in one notice."""
        if self.told:
            gate.notice(
                f"{place}, filled in from the handbook of typical loads: {'; '.join(self.told)}. "
                f"{'Read in: ' + '; '.join(self.sources) + '. ' if self.sources else ''}"
                "Write your own figures to replace them."
            )


def ranged(cell: Cell, gate: Gate, example: str = "1000-1500 W") -> tuple[Cell, float | None]:
    """Read ``1000-1500 W`` as its middle and its 95 % limit [%]; other cells pass as they are."""
    text = numbers.tidy(cell.value) if isinstance(cell.value, str) else ""
    match = _RANGE.fullmatch(text) if len(text) <= numbers.LONGEST else None
    decimal = cell.habits.decimal if cell.habits is not None else "."
    if match is None or text.startswith("-") or _EXPONENT.fullmatch(text):
        return cell, None
    ends = [numbers.written(match[name], decimal) for name in ("low", "high")]
    unit = match["unit"].strip() or match["unit1"].strip()
    first_unit = match["unit1"].strip()
    if any(end is None or end.tail or end.money for end in ends) or (first_unit and first_unit != unit):
        return cell, None
    low, high = (float(end.digits) for end in ends if end is not None)
    if not 0.0 <= low < high:
        gate.wrong(cell, "a range goes from its lower to its higher value", f"Write it as {example}.")
        return replace(cell, value=None), None
    middle = f"{(low + high) / 2.0:.10g}".replace(".", decimal)
    return replace(cell, value=f"{middle} {unit}".strip()), 100.0 * (high - low) / (high + low)


def hours_a_day(cell: Cell) -> Cell:
    """Take ``4 h`` for hours a day, which is what the column holds."""
    if isinstance(cell.value, str) and _A_DAY.fullmatch(cell.value.strip()):
        return replace(cell, value=f"{cell.value.strip().rstrip('.')}/day")
    return cell


def cooler_watts(cell: Cell, gate: Gate, name: str, follows: Follows | None, eer: float | None) -> Cell | None:
    """Turn the BTU/h or tons of a cooler into electric watts; None where they tell nothing (a fault says so)."""
    text = numbers.tidy(cell.value) if isinstance(cell.value, str) else ""
    match = _BTU.fullmatch(text) if len(text) <= numbers.LONGEST else None
    if match is None:
        return cell
    kinds = find(name)
    decimal = cell.habits.decimal if cell.habits is not None else "."
    number = numbers.written(match["number"], decimal)
    tons = match["unit"].casefold().startswith("ton")
    if number is None or number.tail:
        return cell
    btu = float(number.digits) * (1000.0 if match["kilo"] else 1.0) * (BTU_A_TON if tons else 1.0)
    cools = bool(kinds) and (kinds[0].follows == "cooling" or kinds[0].load == MOVES_HEAT)
    if follows == "cooling" or (follows in (None, "heating") and cools):
        written = match["eer"] or match["eer2"]
        eer = float(written) if written else eer
        if eer is None or not 3.0 <= eer <= 45.0:
            eer = TYPICAL_EER
            gate.notice(
                f"{name}: {text} is the heat it moves; an EER of {eer:g} (from memory), give or take "
                f"{TYPICAL_EER_WITHIN_PERCENT:g} %, was taken for its electricity. Write its own in a column eer."
            )
        return replace(cell, value=btu / eer, habits=None)
    if kinds and kinds[0].load in RESISTANCE:
        return replace(cell, value=btu * 0.29307107, habits=None)
    gate.wrong(
        cell,
        f"{'tons' if tons else 'BTU an hour'} tell the heat, not the electricity of this load",
        "Write its watts; of a cooler write follows = cooling and its EER.",
    )
    return None


WHOLE_HOME = ("lights indoors", "baseboard heater")
"""Kinds whose figure in the handbook is of a whole home: fifteen lamps are not fifteen times as much."""


def fill(load: Load, blank: frozenset[str], gate: Gate, place: Cell, filled: Filled, house: House) -> Load:
    """Fill in what the handbook knows of a load that does not say what it draws or how long it runs.

    Parameters
    ----------
    load : Load
        As read.
    blank : frozenset of str
        Columns in which nothing is written.
    place : Cell
        The cell of the watts, for faults.
    filled : Filled
        Notes what was done.
    house : House
        Its people, bedrooms and floor area say how much is used.
    """
    no_power = {"watts", "kwh_per_year", "kwh_per_cycle"} <= blank
    no_hours = "watts" not in blank and load.follows == "clock" and "run_hours" in blank
    kinds = find(load.name)
    if not (no_power or no_hours):
        return load
    if not kinds:
        if no_power:
            _unknown(load, gate, place)
        return load
    kind, parts = kinds[0], []
    if no_power:
        shared = load.count if kind.load in WHOLE_HOME else 1
        each = round(kind.watts / shared, 3)
        load = replace(load, watts=each, source=load.source if "source" not in blank else "guessed")
        together = f" for all {shared} together" if shared > 1 else ""
        parts.append(f"{kind.watts:g} W{together} ({kind.watts_low:g} to {kind.watts_high:g}, {kind.watts_status})")
        if load.watts_within_percent is None:
            within = by_name_percent(
                kind.watts_low,
                kind.watts_high,
                kind.watts_within_percent,
                weather=kind.follows in ("heating", "cooling"),
            )
            load = replace(load, watts_within_percent=within)
    if "standby_watts" in blank and no_power:
        load = replace(load, standby_watts=kind.standby_watts)
    if "follows" in blank and "run_hours" in blank:
        load = replace(load, follows=kind.follows)
    if "share_on" in blank and load.follows == kind.follows and "run_hours" in blank:
        load = replace(load, share_on=kind.share_on)
    if "months" in blank and kind.months and "run_hours" in blank:
        load = replace(load, months=_usual_months(kind, house))
    if load.follows == "clock" and load.run_hours is None and kind.run_hours is not None:
        people = household_factor(kind.part, house)
        load = replace(load, run_hours=min(round(kind.run_hours * people, 2), 24.0))
        by_people = " by the size of the household" if abs(people - 1.0) > 0.005 else ""
        parts.append(f"{load.run_hours:g} h a day{by_people} ({kind.hours_status})")
        if load.hours_within_percent is None:
            within = max(kind.hours_within_percent or 0.0, HOUSEHOLD_HOURS_PERCENT)
            load = replace(load, hours_within_percent=within)
    elif load.follows == "always":
        parts.append(f"round the clock, drawing {100 * load.share_on:.0f} % of the time ({kind.hours_status})")
        if load.hours_within_percent is None and load.share_on < 1.0:
            load = replace(load, hours_within_percent=kind.hours_within_percent)
    elif load.follows in ("heating", "cooling"):
        parts.append(f"hours by the {load.follows} degree-days")
    if load.months is not None:
        parts.append(f"in {months_named(load.months)}")
    filled.add(load, kind, parts)
    return load


def _usual_months(kind: TypicalLoad, house: House) -> frozenset[int]:
    """Return the months in which a kind usually runs, where the house lies."""
    usual = months(kind.months)
    return frozenset(map(turned, usual)) if house.timezone.startswith(SOUTHERN) else usual


def _unknown(load: Load, gate: Gate, place: Cell) -> None:
    words = {word: kind.load for kind in handbook() for word in kind.words}
    close = difflib.get_close_matches(load.name.casefold()[:60], list(words), n=1, cutoff=0.75)
    guess = f"Did you mean {words[close[0]]}? " if close else ""
    gate.wrong(
        place,
        "nothing says what this load draws, and the handbook does not know its name",
        f"{guess}Write watts, or a name that the command loads prints; or, in place of watts and hours, kwh_per_year.",
    )
