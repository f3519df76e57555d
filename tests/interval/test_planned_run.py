"""A planned run read from the data: a heater on a plug-in meter on a few quiet nights."""

from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import pytest
import switching_homes as homes
from house_files import write_folder

import reconcile
from reconcile.clock import as_day, local_seconds
from reconcile.grounds.data_run import evidence_of, from_data
from reconcile.house import House, Meter
from reconcile.house.site import FieldTest, IntervalRun
from reconcile.interval.found import Evidence, IntervalResult
from reconcile.interval.planned_run import RunRead, plan_run, read_run
from reconcile.plan.night_run import planned


@cache
def nights(seed, minutes):
    return homes.metered(homes.home(seed, 130), minutes)


def run_on(interval, first, registration, *, count=4, hours=1.0, times=3, at=1.0, kw=1.5, late=0.0, after=100):
    """Put a heater on a meter that registers so much of it; what was typed in, and the data."""
    local = local_seconds(interval.starts, homes.ZONE)
    kwh, runs = interval.kwh.copy(), []
    step = interval.step_seconds
    from reconcile.clock import day_numbers

    for night in range(count):
        day = first + timedelta(days=after + night)
        midnight = int(day_numbers([day])[0]) * 86400
        for turn in range(times):
            a = midnight + (at + 2 * hours * turn) * 3600 + late
            b = a + hours * 3600
            share = np.clip(np.minimum(local + step, b) - np.maximum(local, a), 0, None) / 3600
            kwh += share * kw * registration
            runs.append(IntervalRun(day, at + 2 * hours * turn, hours, kw * hours))
    return replace(interval, kwh=np.round(kwh, 4)), runs


def _midnight(day):
    return (day.toordinal() - 719_163) * 86_400


@pytest.mark.parametrize(("minutes", "hours", "within"), [(60, 1.0, 0.12), (15, 0.5, 0.05), (5, 0.5, 0.05)])
@pytest.mark.parametrize("registration", [1.0, 1.2])
def test_the_registration_is_read(minutes, hours, within, registration):
    covered = near = 0
    for seed in range(4):
        interval, runs = run_on(nights(seed, minutes), homes.home(0, 1).first, registration, hours=hours)
        read = read_run(interval, homes.ZONE, runs)
        near += abs(read.registration - registration) <= within
        covered += read.low <= registration <= read.high
        assert read.nights == 4
    assert covered >= 3
    assert near >= 3


@pytest.mark.parametrize(("minutes", "at", "within"), [(5, 1.0, 0.03), (15, 1.0, 0.03), (60, 1.5, 0.08)])
@pytest.mark.parametrize("off", [-420.0, 0.0, 420.0])
def test_the_energy_counts_whenever_it_was_switched(minutes, at, within, off):
    interval, runs = run_on(nights(1, minutes), homes.home(0, 1).first, 1.1, hours=2.0, times=2, at=at, late=off)
    read = read_run(interval, homes.ZONE, runs)
    assert abs(read.registration - 1.1) <= within
    assert read.low <= 1.1 <= read.high


def test_a_plan_names_quiet_hours_and_enough_nights():
    fine, coarse = (plan_run(nights(2, minutes), homes.ZONE, 1.5, 0.02) for minutes in (15, 60))
    assert fine.reached
    assert fine.nights <= coarse.nights
    assert {fine.on_hours, coarse.on_hours} <= {2.0, 3.0, 4.0}
    assert {fine.nights, coarse.nights} <= {3, 4, 5, 6, 7}
    assert (fine.from_hour % 1.0, coarse.from_hour % 1.0) == (0.0, 0.5)
    never, ever_larger = (plan_run(nights(2, 60), homes.ZONE, kw, 1e-4) for kw in (1.5, 3.0))
    assert not never.reached
    assert ever_larger.standard_uncertainty < never.standard_uncertainty


@pytest.mark.parametrize("minutes", [15, 60])
def test_nights_that_differ_more_than_the_house_ever_did_are_told_and_widen_the_limits(minutes):
    interval, runs = run_on(nights(0, minutes), homes.home(0, 1).first, 1.0, count=5, hours=3.0, times=1, at=1.5)
    level = read_run(interval, homes.ZONE, runs)
    # another heater runs in the same hours of two nights
    local, kwh = local_seconds(interval.starts, homes.ZONE), interval.kwh.copy()
    for night in (1, 4):
        hour = (local - _midnight(runs[night].day)) / 3600.0
        kwh += 0.4 * minutes / 60.0 * ((hour >= 1.5) & (hour < 4.5))
    spoilt = read_run(replace(interval, kwh=kwh), homes.ZONE, runs)
    assert spoilt.standard_uncertainty > 1.3 * level.standard_uncertainty
    assert spoilt.low <= 1.0 <= spoilt.high
    assert {as_day(day) for day in spoilt.apart} & {runs[1].day, runs[4].day}


def test_nights_that_are_not_in_the_data_say_nothing():
    interval, runs = run_on(nights(0, 60), homes.home(0, 1).first, 1.0)
    late = [replace(run, day=run.day + timedelta(days=900)) for run in runs]
    assert read_run(interval, homes.ZONE, late) is None
    assert read_run(interval, homes.ZONE, []) is None
    assert (
        plan_run(replace(interval, starts=interval.starts[:200], kwh=interval.kwh[:200]), homes.ZONE, 1.5, 0.02) is None
    )


@pytest.mark.parametrize("minutes", [15, 60])
def test_a_night_in_which_the_clock_changes_is_left_out(minutes):
    first = homes.home(0, 1).first  # the clocks change on its fifth day, at two in the morning
    interval, runs = run_on(nights(2, minutes), first, 1.2, after=4)
    read = read_run(interval, homes.ZONE, runs)
    assert read is not None
    assert read.nights == 3
    assert (read.hours, read.reference_kwh) == (9.0, 13.5)
    assert read.low <= 1.2 <= read.high


def test_a_night_with_a_hole_in_the_data_is_left_out():
    interval, runs = run_on(nights(3, 15), homes.home(0, 1).first, 1.0)
    held = int(np.searchsorted(local_seconds(interval.starts, homes.ZONE), _midnight(runs[3].day) + 2 * 3600))
    kept = np.arange(len(interval.kwh)) != held
    read = read_run(replace(interval, starts=interval.starts[kept], kwh=interval.kwh[kept]), homes.ZONE, runs)
    assert read is not None
    assert read.nights == 3


def test_it_is_read_from_the_field_test_file(tmp_path):
    from interval_houses import made

    house, _ = made()
    folder = write_folder(house, tmp_path / "house")
    (folder / "field_test.toml").write_text(
        "[[interval_run]]\ndate = 2025-03-01\nfrom_hour = 1.0\nhours = 1.0\nkwh = 1.5\n"
        "[[interval_run]]\ndate = 2025-03-01\nfrom_hour = 3.0\nhours = 1.0\nkwh = 1.49\n",
        "utf-8",
    )
    read = reconcile.read_house(folder)
    assert [run.kwh for run in read.field_test.interval_runs] == [1.5, 1.49]
    assert read.field_test.interval_runs[0].from_hour == 1.0


def test_what_is_missing_in_the_file_is_asked_for(tmp_path):
    from interval_houses import made

    from reconcile.errors import InputError

    house, _ = made()
    folder = write_folder(house, tmp_path / "house")
    (folder / "field_test.toml").write_text("[[interval_run]]\ndate = 2025-03-01\nhours = 1.0\n", "utf-8")
    with pytest.raises(InputError) as error:
        reconcile.read_house(folder)
    assert "kwh" in str(error.value)


@pytest.mark.parametrize(("registration", "zone"), [(1.33, "cannot-tell"), (1.9, "outside")])
def test_a_run_whose_nights_stir_as_the_heater_does_condemns_a_meter_far_off_alone(registration, zone):
    """A right meter beside a heat pump that ran all night was read 33 % fast, give or take 22, and sent to a test."""
    read = RunRead(registration, 0.112, registration - 0.22, registration + 0.22, 4, 12.0, 18.0, 24.0, 0, 30)
    signal = Evidence("registration", (), (), np.array([registration - 1.0]), np.array([[0.112**2]]))
    found = IntervalResult(0.0, 0, None, None, 60.0, (), (), (), None, run=read, evidence=(signal,))
    home = House("a", (), meters=(Meter(),))
    assert from_data(found, home).zone == zone
    assert evidence_of(found, home)[0].covariance[0, 0] > 0.22**2


def test_quieter_nights_are_planned_after_a_run_that_cannot_tell():
    interval, runs = run_on(nights(1, 15), homes.home(0, 1).first, 1.0)
    home = House("a", (), timezone="UTC", interval=interval, field_test=FieldTest(interval_runs=tuple(runs)))
    read = read_run(interval, homes.ZONE, runs)
    assert planned(home, read) is None
    assert planned(home, replace(read, standard_uncertainty=0.11)) is not None


@pytest.mark.parametrize(("registration", "least", "most"), [(1.0, 0.0, 0.0), (1.2, 0.97, 1.0)])
def test_a_planned_run_outside_the_limits_goes_to_the_weighing_with_how_sure_it_is(registration, least, most):
    interval, runs = run_on(nights(1, 15), homes.home(0, 1).first, registration, hours=0.5)
    read = read_run(interval, homes.ZONE, runs)
    signal = Evidence("registration", (), (), np.array([read.registration - 1.0]), np.array([[1.0]]))
    away = Evidence("away", (), (), np.array([]), np.empty((0, 0)))  # bills with days away stand behind it, or none
    found = IntervalResult(0.0, 0, None, None, 15.0, (), (), (), None, run=read, evidence=(signal, away))
    home = House("a", (), meters=(Meter(),))
    told, beside = evidence_of(found, home)
    assert beside is away
    assert least <= told.chance <= most
    assert (told.chance > 0.0) == (from_data(found, home).zone == "outside")
