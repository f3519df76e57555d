"""The handbook of typical loads."""

import pytest
from numpy.testing import assert_allclose

from reconcile.loads.handbook import SOURCES, find, handbook, typical_power_factor
from reconcile.loads.reference import PARTS

BEYOND_THE_REFERENCE = {"heating", "cooling", "hot water", "furnace fan", "beyond"}


def test_rows_are_in_order_and_named_once():
    names = [kind.load for kind in handbook()]
    assert len(names) == len(set(names)) >= 60


@pytest.mark.parametrize("kind", handbook(), ids=lambda kind: kind.load)
def test_each_row_can_be_right(kind):
    assert 0 < kind.watts_low <= kind.watts <= kind.watts_high <= 25_000
    assert kind.part in PARTS or kind.part in BEYOND_THE_REFERENCE
    assert kind.watts_source in SOURCES
    assert kind.watts_status in ("read", "memory", "practice")
    assert (kind.watts_status == "read") == (kind.watts_source not in ("memory", "practice"))
    assert kind.hours_status in ("read", "memory", "practice")
    assert 0 < kind.power_factor <= 1
    assert 0 < kind.share_on <= 1
    if kind.follows == "always":
        assert kind.run_hours == 24
    if kind.follows in ("heating", "cooling"):
        assert kind.run_hours is None
        assert kind.kwh_per_year is None
        assert kind.hours_within_percent is None
    else:
        assert 0 < kind.run_hours <= 24
        assert 0 < kind.kwh_per_year < 6000
        assert kind.hours_within_percent > 0


@pytest.mark.parametrize("kind", handbook(), ids=lambda kind: kind.load)
def test_each_row_is_found_by_its_own_name(kind):
    assert find(kind.load)[0] is kind


@pytest.mark.parametrize(
    ("name", "load"),
    [
        ("Old chest freezer in the garage", "freezer"),
        ("GAS DRYER", "gas clothes dryer"),
        ("Two computers", "desktop computer"),
        ("heat_pump_water_heater", "heat pump water heater"),
        ("Kitchen lights", "lights indoors"),
        ("Water-heater", "electric water heater"),
        ("Bedroom TVs", "television"),
    ],
)
def test_names_as_people_write_them(name, load):
    assert find(name)[0].load == load


@pytest.mark.parametrize("name", ["", "   ", "Zeppelin", "fridges-r-us-x" * 50])
def test_unknown_names_find_nothing_or_something_but_never_fail(name):
    assert isinstance(find(name), tuple)
    assert find("Zeppelin") == ()


def test_power_factors():
    assert typical_power_factor("Space heater") == 1.0
    assert typical_power_factor("Well pump") < 0.9
    assert typical_power_factor("Zeppelin") is None


def test_yearly_energy_of_a_seasonal_row():
    kind = find("ceiling fan")[0]
    assert_allclose(kind.kwh_per_year, 365 * 5 / 12 * 6 * 75 / 1000, rtol=1e-12)


def test_standby_is_counted_for_the_other_hours():
    kind = find("television")[0]
    assert_allclose(kind.kwh_per_year, 365 * (5 * 120 + 19 * 2) / 1000, rtol=1e-12)
