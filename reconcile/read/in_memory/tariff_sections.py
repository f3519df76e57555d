"""Tariffs in memory laid out as the tables of the settings file, so that they pass the same checks."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from reconcile.read.tables.cells import shown
from reconcile.read.tables.gate import Gate
from reconcile.tariff import Charge, Tariff, Window

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def tariff_tables(tariffs: Any, gate: Gate) -> list[dict[str, Any]]:
    """Return the ``[[tariff]]`` tables of a house's tariffs; what is no Tariff is a fault."""
    made = []
    for number, tariff in enumerate(tariffs if isinstance(tariffs, Iterable) else [tariffs], start=1):
        if not isinstance(tariff, Tariff) or not all(isinstance(charge, Charge) for charge in tariff.charges):
            gate.fault(
                "this is no Tariff of Charges", "Write Tariff(...).", file="tariff", row=number, read=shown(tariff)
            )
            continue
        table: dict[str, Any] = {"charge": [_charge(charge, number, gate) for charge in tariff.charges]}
        if tariff.valid_from != date.min:
            table["valid_from"] = tariff.valid_from
        elif number > 1:
            table["valid_from"] = date(1950, 1, 1)
        if tariff.minimum_per_bill is not None:
            table["minimum_per_bill"] = _money(tariff.minimum_per_bill, "minimum_per_bill", number, gate)
        table["block_round"] = tariff.block_places
        made.append(table)
    if len(made) > 1 and "valid_from" not in made[0]:
        made[0]["valid_from"] = date(1950, 1, 1)
    return made


def _money(value: Any, name: str, number: int, gate: Gate) -> Any:
    if not isinstance(value, Decimal):
        gate.fault(
            "money is kept as Decimal",
            f'Write Decimal("{value}").',
            file="tariff",
            row=number,
            column=name,
            read=shown(value),
        )
    return value


def _charge(charge: Charge, number: int, gate: Gate) -> dict[str, Any]:
    made: dict[str, Any] = {"name": charge.name, "applies": charge.applies, "kind": charge.kind, "round": charge.places}
    if charge.values:
        made["values"] = [
            {"from": since, charge.basis: _money(price, charge.name, number, gate)} for since, price in charge.values
        ]
    elif charge.basis == "blocks":
        made["blocks"] = [
            {"price": _money(block.price, charge.name, number, gate)}
            | ({} if block.up_to is None else {f"up_to_per_{charge.blocks_per}": block.up_to})
            for block in charge.blocks
        ]
    elif charge.basis == "windows":
        made["windows"] = [_window(window, number, gate) for window in charge.windows]
    else:
        made[str(charge.basis)] = None if charge.price is None else _money(charge.price, charge.name, number, gate)
    if charge.on is not None:
        made["on"] = list(charge.on)
    if charge.months is not None:
        made["months"] = sorted(charge.months)
    return made


def _window(window: Window, number: int, gate: Gate) -> dict[str, Any]:
    made: dict[str, Any] = {"name": window.name, "price": _money(window.price, window.name, number, gate)}
    if window.weekdays is not None:
        made["days"] = ",".join(WEEKDAYS[day % 7] for day in sorted(window.weekdays))
    if window.hours is not None:
        made["hours"] = "-".join(f"{int(hour)}:{round(hour % 1 * 60):02d}" for hour in window.hours)
    if window.months is not None:
        made["months"] = sorted(window.months)
    return made
