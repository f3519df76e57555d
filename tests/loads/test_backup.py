"""Backup strips beside a heat pump: they carry what the pump cannot, in the coldest hours alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from reconcile.house import Bill, House, Load, Weather
from reconcile.loads.backup import stages
from reconcile.loads.energy import load_energy

PUMP = Load("heat pump", watts=3000.0, follows="heating")
STRIPS = Load("auxiliary strips", watts=8000.0, follows="heating")
FIRST = date(2024, 4, 1)
BILLS = tuple(Bill(FIRST + timedelta(30 * i), FIRST + timedelta(30 * (i + 1)), kwh=1000.0) for i in range(12))


def energy_of(*loads, mean=9.0, swing=15.0):
    day = np.arange(360)
    chance = np.random.default_rng(5).normal(0.0, 4.0, 360)
    warmth = mean - swing * np.cos(2 * np.pi * (day + 75.0) / 365.0) + chance
    return load_energy(BILLS, House("h", BILLS, loads=loads, weather=Weather(FIRST, warmth)))


@pytest.mark.parametrize("name", ["auxiliary strips", "backup heat strips", "Auxiliary heat", "emergency heat"])
def test_strips_carry_a_small_part_and_only_in_the_cold(name):
    energy = energy_of(PUMP, replace(STRIPS, name=name))
    pump, strips = energy.kwh.T
    assert 0.03 * pump.sum() < strips.sum() < 0.4 * pump.sum()
    assert strips[:6].sum() < 0.01 * strips.sum()
    assert strips.max() / strips.sum() > pump.max() / pump.sum() + 0.1
    assert energy.log_sd[1] >= 1.0


def test_a_pump_bought_to_cool_needs_hardly_any_in_a_mild_winter():
    energy = energy_of(PUMP, STRIPS, mean=21.0, swing=11.0)
    pump, strips = energy.kwh.sum(axis=0)
    assert strips < 0.15 * pump


def test_what_strips_use_goes_by_the_pump_and_not_by_their_own_watts():
    usual = energy_of(PUMP, STRIPS).kwh
    np.testing.assert_allclose(energy_of(PUMP, replace(STRIPS, watts=16000.0)).kwh, usual, rtol=1e-9)
    twice = energy_of(replace(PUMP, watts=6000.0), replace(STRIPS, watts=16000.0)).kwh
    np.testing.assert_allclose(twice, 2.0 * usual, rtol=1e-9)
    two = energy_of(replace(PUMP, watts=1500.0), replace(PUMP, name="mini-split", watts=1500.0), STRIPS).kwh
    np.testing.assert_allclose(two[:, 2], usual[:, 1], rtol=1e-9)


def test_a_pump_with_strips_runs_without_rest_where_they_come_on():
    alone, beside = energy_of(PUMP).kwh[:, 0], energy_of(PUMP, STRIPS).kwh[:, 0]
    assert 1.3 < beside.sum() / alone.sum() < 2.2


def test_lines_that_say_their_hours_run_as_they_say():
    said = replace(STRIPS, run_hours=1.0)
    np.testing.assert_array_equal(energy_of(PUMP, said).kwh[:, 1], energy_of(said).kwh[:, 0])
    assert stages((replace(PUMP, hours_per_degree_day=0.5), said)) == (None, None)
    colder = energy_of(PUMP, replace(STRIPS, balance_c=-12.0)).kwh[:, 1]
    assert colder.sum() < energy_of(PUMP, replace(STRIPS, balance_c=-4.0)).kwh[:, 1].sum()


def test_stated_hours_of_the_pump_tell_where_strips_come_on():
    small, large = (energy_of(replace(PUMP, hours_per_degree_day=rate), STRIPS).kwh[:, 1].sum() for rate in (2.0, 1.0))
    assert large < 0.6 * small
