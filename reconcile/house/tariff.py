"""What a tariff is: dated lists of charges in ``Decimal`` money. :mod:`reconcile.money` computes with them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Literal

from reconcile.records import dataclass

Basis = Literal["per_bill", "per_day", "per_kwh", "percent", "blocks", "windows", "per_kw", "export_credit_per_kwh"]
Kind = Literal["fixed", "energy", "rider", "levy", "tax"]


@dataclass(frozen=True, slots=True)
class Block:
    """A price for the kWh up to a limit; ``up_to`` None is the last block, without limit."""

    price: Decimal
    up_to: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Window:
    """A price for the kWh used in certain hours; None is every day, hour or month.

    ``hours`` are half-open local clock hours (start, end), end past midnight when not above start.
    ``weekdays`` counts Monday as 0.
    """

    name: str
    price: Decimal
    weekdays: frozenset[int] | None = None
    hours: tuple[float, float] | None = None
    months: frozenset[int] | None = None


@dataclass(frozen=True, slots=True)
class Charge:
    """One line of a tariff. ``values`` holds (valid from, price) where the price changes by date."""

    name: str
    basis: Basis
    price: Decimal | None = None
    values: tuple[tuple[date, Decimal], ...] = ()
    on: tuple[str, ...] | None = None
    """Names of the lines a percentage is taken of; None is every line above it."""
    blocks: tuple[Block, ...] = ()
    blocks_per: Literal["day", "bill"] = "bill"
    windows: tuple[Window, ...] = ()
    months: frozenset[int] | None = None
    applies: Literal["service", "read_date", "bill_date"] = "service"
    kind: Kind = "energy"
    places: int = 2
    """Decimal places to which the line is rounded, half up."""


@dataclass(frozen=True, slots=True)
class Tariff:
    """The charges valid from a date until the next tariff's."""

    valid_from: date
    charges: tuple[Charge, ...]
    minimum_per_bill: Decimal | None = None
    block_places: int = 0
    """Decimal places of a prorated block limit [kWh], half up."""
