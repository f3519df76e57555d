"""Heating and cooling where no weather is known: the mean of all climates, and how far each may be from it."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from reconcile.house import Bill, House, Load
from reconcile.house.outdoors import DAY_SD_C
from reconcile.loads.energy import load_energy
from reconcile.loads.unknown_climate import CLIMATE_KINDS, DAYS_OF_SCATTER, typical_weather

HEAT = Load("Baseboard", watts=6000.0, follows="heating")
COOL = Load("Central air", watts=3500.0, follows="cooling")
MONTHS = tuple(
    Bill(date(2024 + m // 12, m % 12 + 1, 1), date(2024 + (m + 1) // 12, (m + 1) % 12 + 1, 1)) for m in range(12)
)


def energy(*loads, zone="America/Chicago", bills=MONTHS):
    return load_energy(bills, House("a", bills, timezone=zone, loads=loads))


def test_shares_are_of_all_homes():
    assert sum(kind.share for kind in CLIMATE_KINDS) == pytest.approx(1.0)


@pytest.mark.parametrize("kind", CLIMATE_KINDS, ids=lambda kind: kind.name)
def test_a_typical_year_has_its_mean_its_swing_and_its_scatter(kind):
    made = typical_weather(kind, date(2024, 1, 1), 365, southern=False).mean_c
    assert made.mean() == pytest.approx(kind.mean_c, abs=0.3)
    smooth = np.convolve(made, np.ones(DAYS_OF_SCATTER) / DAYS_OF_SCATTER, mode="valid")
    assert (smooth.max() - smooth.min()) / 2 == pytest.approx(kind.swing_c, rel=0.05)
    assert int(np.argmin(smooth)) < 60
    assert (made[7:-6] - smooth).std() == pytest.approx(DAY_SD_C, rel=0.15)


def test_heating_is_of_winter_and_cooling_of_summer_on_both_sides_of_the_equator():
    north, south = energy(HEAT, COOL), energy(HEAT, COOL, zone="Australia/Sydney")
    assert np.argmax(north.kwh[:, 0]) in (0, 11)
    assert np.argmax(north.kwh[:, 1]) in (6, 7)
    assert np.argmax(south.kwh[:, 0]) in (6, 7)
    # April heats in most climates: no bill of the shoulder stands at nothing
    assert north.kwh[3, 0] > 0.2 * north.kwh[0, 0]


def test_what_is_expected_is_the_mean_of_the_climates_and_the_rest_is_told():
    made = energy(HEAT, COOL)
    shares = np.sqrt([kind.share for kind in CLIMATE_KINDS])
    assert made.climate.shape == (12, 2, len(CLIMATE_KINDS))
    np.testing.assert_allclose(made.climate @ shares, 0.0, atol=1e-6)
    year = made.climate.sum(axis=0) / shares + made.kwh.sum(axis=0)[:, None]
    cold, hot = 0, 3
    assert year[0, cold] > 3 * year[0, hot] > 0
    assert year[1, hot] > 3 * year[1, cold] > 0


def test_a_yearly_label_holds_in_every_climate():
    label = Load("Heat pump", kwh_per_year=4000.0, follows="heating")
    made = energy(label)
    assert made.kwh.sum() == pytest.approx(4000.0, rel=0.02)
    year = made.climate.sum(axis=0)
    assert np.abs(year).max() < 0.05 * 4000.0


def test_a_summer_of_bills_still_sizes_the_heating_by_the_winter():
    summer = energy(HEAT, bills=MONTHS[4:9])
    np.testing.assert_allclose(summer.kwh[:, 0], energy(HEAT).kwh[4:9, 0], rtol=0.15)


def test_known_weather_leaves_no_climate_to_doubt():
    weather = typical_weather(CLIMATE_KINDS[1], date(2024, 1, 1), 366, southern=False)
    known = load_energy(MONTHS, replace(House("a", MONTHS, loads=(HEAT,)), weather=weather))
    assert known.climate.shape[-1] == 0
