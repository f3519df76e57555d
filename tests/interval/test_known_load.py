"""Registration from a listed load of known watts."""

from dataclasses import replace
from functools import cache

import data_homes
import numpy as np
import pytest
import switching_homes as homes

from reconcile import reconcile
from reconcile.house import Load
from reconcile.interval.found import ABOVE_PLATE
from reconcile.interval.known_load import known_load, plated_load
from reconcile.interval.switching import switching, thinned

HEATER = Load("Water heater", watts=4500.0, watts_within_percent=5.0, run_hours=1.5)


@cache
def home(seed):
    made = homes.home(seed, 150)
    heater = homes.Appliance("water heater", 4500.0, 3.5, (10, 45))
    rng = np.random.default_rng(seed)
    watts = homes._runs(rng, heater, 4500.0, rng.poisson(3.5, 150), len(made.seconds))
    return replace(made, watts={**made.watts, "water heater": watts}, resistive=made.resistive | {"water heater"})


def found(made, loads, minutes=15, gain=0.0):
    seen = switching(thinned(homes.metered(made, minutes, gain=gain)), homes.ZONE)
    return known_load(loads, seen, seen.first, seen.last + 1)


@pytest.mark.parametrize("minutes", [1, 5, 15])
@pytest.mark.parametrize("gain", [0.0, 0.2])
def test_a_meter_fast_since_ever_shows_in_a_water_heater(minutes, gain):
    right = 0
    for seed in range(6):
        one = found(home(seed), (HEATER,), minutes, gain)
        if one is not None:
            assert abs(one.registration - 1.0 - gain) <= 3.5 * one.standard_uncertainty
            right += 1
    assert right >= 5


def test_watts_that_are_not_known_say_nothing():
    assert found(home(0), (replace(HEATER, watts_within_percent=None),)) is None
    assert found(home(0), (replace(HEATER, watts_within_percent=20.0),)) is None
    assert found(home(0), (replace(HEATER, source="guessed"),)) is None
    assert found(home(0), ()) is None


def test_two_registrations_that_fit_alike_say_nothing_but_a_right_meter_is_likelier():
    heater = home(0).watts["water heater"]

    def beside(part):
        return replace(home(0), watts={"water heater": heater, "twin": part * heater[::-1]})

    assert found(beside(0.7), (HEATER,), gain=0.2) is None
    assert found(beside(1.2), (HEATER,)).seen_watts < 4700.0


@cache
def with_dryer(seed):
    """A heater of short runs beside a dryer that goes on and off, whose quarter-hour mean is near the heater's."""
    made, rng = homes.home(seed, 365), np.random.default_rng(seed)
    heater = homes.Appliance("water heater", 4500.0, 3.2, (5, 26))
    watts = homes._runs(rng, heater, 4500.0, rng.poisson(3.2, 365), len(made.seconds))
    dryer = np.zeros(len(watts))
    for day in np.flatnonzero(rng.random(365) < 0.6):
        at = day * 1440 + int(rng.choice([660, 1140])) + int(rng.integers(-120, 120))
        end = at + int(rng.integers(35, 61))
        while at < end:
            dryer[at : min(at + int(rng.integers(4, 10)), end)] = 4900.0
            at += int(rng.integers(6, 12))
    own = {name: power for name, power in made.watts.items() if name not in ("water heater", "dryer")}
    resistive = made.resistive | {"water heater", "dryer"}
    return replace(made, watts={**own, "water heater": watts, "dryer": dryer}, resistive=resistive)


@pytest.mark.parametrize("minutes", [5, 15, 60])
def test_the_mean_of_a_load_that_goes_on_and_off_is_never_taken_for_the_heater(minutes):
    dryer = Load("Clothes dryer", watts=5180.0, watts_within_percent=15.0, run_hours=0.5)
    loads = (replace(HEATER, run_hours=0.8), dryer)
    for gain in (0.0, 0.2):
        said = [found(with_dryer(seed), loads, minutes, gain) for seed in range(6)]
        right = [abs(one.registration - 1.0 - gain) < 0.1 for one in said if one is not None]
        assert all(right)
        assert len(right) >= (5 if minutes < 60 else 0)


PLATED = replace(HEATER, watts_within_percent=None, source="nameplate")


def listed(made, seed):
    return (*(one for one in data_homes.listed(made, seed) if one.name != "water heater"), PLATED)


def by_plate(made, loads, gain=0.0):
    seen = switching(thinned(homes.metered(made, 15, gain=gain)), homes.ZONE)
    return plated_load(loads, seen, seen.first, seen.last + 1)


def test_a_water_heater_known_by_its_plate_alone_is_asked_about_only_well_above_it():
    right = [by_plate(home(seed), listed(home(seed), seed)) for seed in range(6)]
    fast = [by_plate(home(seed), listed(home(seed), seed), gain=0.2) for seed in range(6)]
    assert not any(one is not None and one.above_plate for one in right)
    assert sum(one is not None and one.above_plate for one in fast) >= 5
    assert all(one is None or one.standard_uncertainty >= 0.07 for one in (*right, *fast))


@pytest.mark.parametrize(
    "loads",
    [
        (HEATER, PLATED),
        (replace(PLATED, source="guessed"),),
        (replace(PLATED, watts_within_percent=20.0),),
        (replace(PLATED, name="Heat pump water heater"),),
        (replace(PLATED, name="Clothes dryer"),),
        (replace(PLATED, name="Gas water heater", watts=150.0),),
    ],
)
def test_no_plate_speaks_where_watts_are_known_or_are_no_elements(loads):
    assert by_plate(home(0), loads, gain=0.2) is None


def test_steps_of_another_listed_load_are_no_larger_element():
    # a dryer of nearly the heater's watts fits them as well, were the meter fast by so much
    fast = home(0)
    others = (PLATED, Load("Clothes dryer", watts=4400.0, run_hours=0.3, source="nameplate"))
    seen_watts = by_plate(fast, others, gain=0.3).seen_watts
    car = Load("Electric car charger", watts=round(seen_watts, -1), run_hours=0.8, source="nameplate")
    assert by_plate(fast, (*others, car), gain=0.3) is None
    assert by_plate(fast, (*others, replace(car, watts=1.3 * seen_watts)), gain=0.3) is not None


def test_a_heater_above_its_plate_is_said_and_asked_about_and_never_explained():
    made = home(1)
    house = data_homes.billed(made, gain=0.2, loads=listed(made, 1))
    answer = reconcile(house)
    assert ABOVE_PLATE in {finding.code for finding in answer.findings}
    assert answer.verdict.rule == "above-plate"
    assert "4,500 W" in answer.verdict.headline
    assert answer.verdict.next_steps[0].code == "read-the-plate"
    assert "known-load" in {step.code for step in answer.verdict.next_steps}


def test_sizes_that_lie_at_the_very_edge_of_an_appliance_are_its_own():
    """Rounding counted them in and left the appliance without a size."""
    least = -0.49429632181478034
    sizes = np.array([*[least] * 8, -0.443946094926446, -0.4200712604975265, 1.5])
    seen = switching(homes.metered(home(1)), homes.ZONE)
    runs = replace(seen, run_log_kw=sizes, run_day=np.full(len(sizes), seen.first))
    assert known_load([HEATER], runs, seen.first, seen.last + 1) is None


def test_what_a_plate_at_240_volts_gives_at_208_is_no_slow_meter():
    made = homes.replaced(home(3), "water heater", (208.0 / 240.0) ** 2, 0)
    plate = replace(HEATER, source="nameplate")
    assert found(made, [plate]) is None
    assert found(made, [replace(plate, source="measured")]).registration == pytest.approx(0.75, abs=0.03)
    assert found(made, [plate], gain=0.2).registration == pytest.approx(0.9, abs=0.03)
    house = data_homes.billed(made, gain=0.2, loads=(plate,))
    assert reconcile(house).interval.known_loads
    assert not reconcile(replace(house, service="network")).interval.known_loads
