"""Quantities that are read without the registry of units are read as the registry reads them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reconcile import units
from reconcile.errors import UnitError

EVERY = [(unit, wanted) for wanted, known in units.PLAIN.items() for unit in known]


def by_registry(text: str, unit: str) -> float:
    return float(units.registry().Quantity(text).to(unit).magnitude)


@pytest.mark.parametrize(("unit", "wanted"), EVERY)
@given(number=st.floats(0.001, 1e6))
def test_a_plain_quantity_is_as_the_registry_has_it(unit: str, wanted: str, number: float) -> None:
    text = f"{number:.6f} {unit}"
    assert units.parse(text, wanted) == pytest.approx(by_registry(text, wanted), rel=1e-12)


@pytest.mark.parametrize("text", ["12 A * 120 V", "2.5A*230V", "0.8 ampere * 12 V"])
def test_amps_times_volts_are_as_the_registry_has_them(text: str) -> None:
    assert units.parse(text, "W") == pytest.approx(by_registry(text, "W"), rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit"), [("3 kWh", "W"), ("12 A", "W"), ("5 ft", "m^2"), ("2 kw", "kWh"), ("3 Mw", "W")]
)
def test_another_kind_is_no_less_refused(text: str, unit: str) -> None:
    with pytest.raises(UnitError):
        units.parse(text, unit)


def test_no_registry_is_built_for_a_house_as_most_are() -> None:
    sample = Path(__file__).parents[1] / "sample_bills" / "fast_meter"
    read = "import sys; from pathlib import Path; from reconcile.read import read_house; read_house(Path(sys.argv[1]))"
    done = subprocess.run(
        [sys.executable, "-c", f"{read}; print('pint' in sys.modules)", str(sample)],
        check=True,
        capture_output=True,
        text=True,
    )
    assert done.stdout.strip() == "False"
