"""What no house can be is refused with its place; what is next to nothing is nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from reconcile.errors import Fault
from reconcile.read import read_house

LOADS = "load,count,watts,run_hours,efficiency,power_factor,kwh_per_year\n"
TARIFF = "[[tariff]]\nvalid_from = 2024-01-01\n"

REFUSED = {
    "price": ({"house.toml": TARIFF + "energy = 999999999999\n"}, "house.toml", 3, "tariff[1].energy"),
    "price a million": ({"house.toml": TARIFF + "energy = 1000001\n"}, "house.toml", 3, "tariff[1].energy"),
    "percent": ({"house.toml": TARIFF + "energy = 0.1\ntax_percent = 1e4\n"}, "house.toml", 4, "tariff[1].tax_percent"),
    "amount": ({"bills.csv": "start,end,kwh,amount\n2025-01-07,2025-02-06,9,99999999999\n"}, "bills.csv", 2, "amount"),
    "efficiency": ({"loads.csv": LOADS + "Pump,1,500,3,1e-300,,\n"}, "loads.csv", 2, "efficiency"),
    "power factor": ({"loads.csv": LOADS + "Pump,1,500,3,,0.001,\n"}, "loads.csv", 2, "power_factor"),
    "a town of lamps": ({"loads.csv": LOADS + "Lamp,1000,2000,3,,,\n"}, "loads.csv", 2, "count"),
    "a town of years": ({"loads.csv": LOADS + "Lamp,1000,,,,,9000\n"}, "loads.csv", 2, "count"),
    "multiplier": ({"house.toml": "[meter]\nmultiplier = 1e-300\n"}, "house.toml", 2, "meter.multiplier"),
    "step": ({"house.toml": "[meter]\nstep_kwh = 1e-320\n"}, "house.toml", 2, "meter.step_kwh"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_is_refused(
    make_house: Callable[..., Path], faults_of: Callable[[Path], tuple[Fault, ...]], name: str
) -> None:
    changes, file, row, column = REFUSED[name]
    (fault,) = faults_of(make_house({"events.csv": None, **changes}))
    assert (fault.file, fault.row, fault.column) == (file, row, column)
    assert fault.remedy.endswith(".")


def test_what_is_next_to_nothing_is_nothing(make_house: Callable[..., Path]) -> None:
    bills = "start,end,kwh,amount\n2025-01-07,2025-02-06,1e-320,1e-400\n2025-02-06,2025-03-07,2.8e-14,1e-12\n"
    house = read_house(make_house({"bills.csv": bills}))
    assert [(bill.kwh, bill.amount) for bill in house.bills] == [(0.0, 0), (0.0, 0)]
