"""A name that points elsewhere and is one slip off is a fault with its place, where it would move the answer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from reconcile.errors import Fault
from reconcile.read import read_house

FIELD = """\
[[quiet]]
on = [{}]
pulses = 64
seconds = 900
"""
PULSES = {"house.toml": "[house]\n[meter]\npulse_wh = 1\n"}
FaultsOf = Callable[[Path], tuple[Fault, ...]]


@pytest.mark.parametrize("name", ["Refridgerator", "Refrigeratr", "Refrigerators"])
def test_a_slip_in_a_quiet_reading(make_house: Callable[..., Path], faults_of: FaultsOf, name: str) -> None:
    (fault,) = faults_of(make_house({**PULSES, "field_test.toml": FIELD.format(f'"Lamps", "{name}"')}))
    assert (fault.file, fault.row, fault.column) == ("field_test.toml", 2, "quiet[1].on")
    assert fault.read == name
    assert "Did you mean Refrigerator?" in fault.remedy


@pytest.mark.parametrize("name", ["Lampe", "lmps", "Lamps."])
def test_a_slip_in_the_diary(make_house: Callable[..., Path], faults_of: FaultsOf, name: str) -> None:
    diary = f"date,kind,load\n2025-01-20,away,\n2025-02-10,new-load,{name}\n"
    (fault,) = faults_of(make_house({"events.csv": diary}))
    assert (fault.file, fault.row, fault.column, fault.read) == ("events.csv", 3, "load", name)
    assert "Did you mean Lamps?" in fault.remedy


def test_other_spellings_are_the_same_and_another_load_is_only_noticed(make_house: Callable[..., Path]) -> None:
    house = read_house(
        make_house(
            {
                **PULSES,
                "field_test.toml": FIELD.format('"HEAT-PUMP", "space  heater", "Aquarium"'),
                "events.csv": "date,kind,load\n2025-02-10,removed-load,Jacuzzi\n2025-02-11,new-load,heat_pump\n",
            }
        )
    )
    assert house.field_test is not None
    assert house.field_test.quiet[0].on == ("Heat pump", "Space heater", "Aquarium")
    assert [event.load for event in house.events] == ["Jacuzzi", "Heat pump"]
    assert sum("not in the list of loads" in notice for notice in house.notices) == 2


def test_a_slip_in_what_a_percentage_is_taken_of(make_house: Callable[..., Path], faults_of: FaultsOf) -> None:
    tariff = (
        "[[tariff]]\nvalid_from = 2024-01-01\n[[tariff.charge]]\nname = 'Energy'\nper_kwh = 0.1\n"
        "[[tariff.charge]]\nname = 'Tax'\npercent = 5\non = ['Enrgy']\n"
    )
    (fault,) = faults_of(make_house({"house.toml": tariff}))
    assert (fault.row, fault.column, fault.read) == (9, "tariff[1].charge[2].on", "Enrgy")
    assert "Did you mean energy?" in fault.remedy
