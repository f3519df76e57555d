"""A bill, line by line, by the tariff as typed: every line rounded half up, then summed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Context, Decimal
from functools import cache

from reconcile.house.tariff import Block, Charge, Kind, Tariff
from reconcile.money.tariff_parts import Part, parts_of
from reconcile.records import dataclass

ZERO, ONE = Decimal(0), Decimal(1)
MINIMUM = "Minimum bill"

WindowKwh = Callable[[Charge, date, date], Sequence[Decimal] | None]
"""Energy [kWh] in each window of a charge between two dates of the bill, or None where that is not known."""


@dataclass(frozen=True, slots=True)
class Missing:
    """What a bill would need to be priced; a ``code`` of :data:`reconcile.texts.money.MISSING`."""

    code: str
    charge: str = ""
    windows: tuple[str, ...] = ()


class CannotPrice(ValueError):  # noqa: N818 - it is an answer to the user, told in words, not a failure
    """The tariff as typed cannot be applied to this bill; ``missing`` says what it lacks."""

    def __init__(self, missing: Missing) -> None:
        super().__init__(missing.code)
        self.missing = missing


@dataclass(frozen=True, slots=True)
class Use:
    """What a bill charges for."""

    start: date
    end: date
    kwh: Decimal
    bill_date: date | None = None
    demand_kw: Decimal | None = None
    exported_kwh: Decimal | None = None
    window_kwh: WindowKwh | None = None

    @property
    def days(self) -> int:
        """Days of the bill [d]."""
        return (self.end - self.start).days


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a bill as recomputed."""

    charge: str
    """Name of the charge in the tariff."""
    name: str
    """The same with its block, window or days."""
    kind: Kind
    quantity: Decimal
    unit: str
    rate: Decimal
    amount: Decimal
    start: date
    end: date


def price_bill(tariffs: Sequence[Tariff], use: Use) -> tuple[Line, ...]:
    """Compute a bill line by line.

    A price change inside the bill splits days, and kWh by days; block limits a day are multiplied by the
    days of the part and rounded half up to whole kWh (``block_places``), block limits a bill by its share of
    the days. A percentage that stays the same is taken once, of the sum of its lines. The minimum is met
    before taxes.

    Parameters
    ----------
    tariffs : sequence of Tariff
        In order of ``valid_from``.

    Raises
    ------
    CannotPrice
        Where no tariff holds, or what it charges for is not known.
    """
    charges = parts_of(tariffs, use.start, use.end, use.bill_date)
    if not charges:
        raise CannotPrice(Missing("no-tariff"))
    lines: list[Line] = []
    minimum = _minimum(charges)
    for parts in charges:
        if minimum is not None and parts[0].charge.kind == "tax":
            lines += _up_to_minimum(lines, minimum, use)
            minimum = None
        if parts[0].charge.basis == "percent":
            lines += _percent(parts, lines, use)
        else:
            for part in parts:
                lines += _lines(part, use)
    if minimum is not None:
        lines += _up_to_minimum(lines, minimum, use)
    return tuple(lines)


def total(lines: Sequence[Line]) -> Decimal:
    """Sum the lines of a bill."""
    return sum([line.amount for line in lines], start=ZERO)


def sum_if_known(amounts: Iterable[Decimal | None]) -> Decimal | None:
    """Sum amounts of money; None where one of them is not known."""
    whole = Decimal(0)
    for amount in amounts:
        if amount is None:
            return None
        whole += amount
    return whole


def rounded(amount: Decimal, places: int) -> Decimal:
    """Round half up (away from zero at the half) to ``places`` decimals.

    Examples
    --------
    >>> rounded(Decimal("550") * Decimal("0.0475"), 2)
    Decimal('26.13')
    """
    return amount.quantize(_step(places), ROUND_HALF_UP, _ROOM)


def cents(amount: Decimal) -> Decimal:
    """Round money half up to the cent.

    Examples
    --------
    >>> cents(Decimal("26.125"))
    Decimal('26.13')
    """
    return rounded(amount, 2)


_ROOM = Context(prec=300)
"""Percentages of percentages may pass the 28 digits of the usual context, in which rounding then fails."""


@cache
def _step(places: int) -> Decimal:
    return Decimal(1).scaleb(-places)


def _minimum(charges: list[list[Part]]) -> Decimal | None:
    return max((parts[-1] for parts in charges), key=lambda p: p.end).tariff.minimum_per_bill


def _up_to_minimum(lines: list[Line], minimum: Decimal, use: Use) -> list[Line]:
    short = minimum - total(lines)
    if short <= 0:
        return []
    return [Line(MINIMUM, MINIMUM, "fixed", Decimal(1), "bill", short, short, use.start, use.end)]


def _lines(part: Part, use: Use) -> list[Line]:
    charge = part.charge
    if charge.basis == "blocks":
        return _blocks(part, use)
    if charge.basis == "windows":
        return _windows(part, use)
    price = part.price if part.price is not None else ZERO
    if charge.basis == "per_bill":
        return [_line(part, use, _share(part, use, ONE), "bill", price)]
    if charge.basis == "per_day":
        return [_line(part, use, Decimal(part.days), "day", price)]
    if charge.basis == "per_kwh":
        return [_line(part, use, _share(part, use, use.kwh), "kWh", price)]
    if charge.basis == "per_kw":
        if use.demand_kw is None:
            raise CannotPrice(Missing("no-demand", charge.name))
        return [_line(part, use, _share(part, use, use.demand_kw), "kW", price)]
    if use.exported_kwh is None:
        raise CannotPrice(Missing("no-export", charge.name))
    return [_line(part, use, _share(part, use, use.exported_kwh), "kWh sent out", -price)]


def _share(part: Part, use: Use, quantity: Decimal) -> Decimal:
    """Share of a quantity, by days; all of it where the part is the whole bill."""
    return quantity if part.whole else quantity * part.days / use.days


def _note(part: Part, use: Use) -> str:
    """Say which days, where the part is not the whole bill."""
    return "" if part.whole else f", {part.days} of {use.days} days"


def _line(part: Part, use: Use, quantity: Decimal, unit: str, rate: Decimal, what: str = "") -> Line:
    charge = part.charge
    amount = rounded(quantity * rate, charge.places)
    name = f"{charge.name}{what}{_note(part, use)}"
    return Line(charge.name, name, charge.kind, quantity, unit, rate, amount, part.start, part.end)


def block_limit(block: Block, part: Part, days: int) -> Decimal | None:
    """Upper limit of a block in this part of a bill [kWh]; None for the last block."""
    if block.up_to is None:
        return None
    places = part.tariff.block_places
    if part.charge.blocks_per == "day":
        return rounded(block.up_to * part.days, places)
    return block.up_to if part.whole else rounded(block.up_to * part.days / days, places)


def _blocks(part: Part, use: Use) -> list[Line]:
    kwh = _share(part, use, use.kwh)
    below = ZERO
    out: list[Line] = []
    for block in part.charge.blocks:
        limit = block_limit(block, part, use.days)
        inside = (kwh if limit is None else min(kwh, limit)) - below
        if inside > 0 or not out:
            what = f", over {below:f} kWh" if limit is None else f", up to {limit:f} kWh"
            out.append(_line(part, use, inside, "kWh", block.price, what if len(part.charge.blocks) > 1 else ""))
        if limit is None or kwh <= limit:
            break
        below = limit
    return out


def _windows(part: Part, use: Use) -> list[Line]:
    windows = part.charge.windows
    energies = use.window_kwh(part.charge, part.start, part.end) if use.window_kwh is not None else None
    if energies is None:
        names = tuple(dict.fromkeys(w.name for w in windows))
        raise CannotPrice(Missing("no-windows", part.charge.name, names))
    return [
        _line(part, use, kwh, "kWh", window.price, f", {window.name}")
        for window, kwh in zip(windows, energies, strict=True)
        if kwh != 0
    ]


def _percent(parts: list[Part], above: list[Line], use: Use) -> list[Line]:
    first = parts[0]
    covered = len(parts) > 1 and sum(p.days for p in parts) == use.days
    if covered and all((p.price, p.charge.on) == (first.price, first.charge.on) for p in parts):
        parts = [Part(first.charge, first.tariff, use.start, use.end, first.price, whole=True)]
    out = []
    for part in parts:
        on = None if part.charge.on is None else {name.casefold() for name in part.charge.on}
        taxed = above if on is None else [line for line in above if line.charge.casefold() in on]
        base = total(taxed) if part.whole else sum((_within(line, part) for line in taxed), start=ZERO)
        rate = (part.price if part.price is not None else ZERO) / 100
        charge = part.charge
        amount = rounded(base * rate, charge.places)
        name = f"{charge.name}{_note(part, use)}"
        out.append(Line(charge.name, name, charge.kind, base, "of", rate, amount, part.start, part.end))
    return out


def _within(line: Line, part: Part) -> Decimal:
    """Money of a line that falls on the days of a part, by days."""
    if part.whole or (part.start <= line.start and line.end <= part.end):
        return line.amount
    shared = (min(line.end, part.end) - max(line.start, part.start)).days
    return line.amount * max(shared, 0) / (line.end - line.start).days
