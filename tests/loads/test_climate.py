"""The normal course of a year: from its coldest and warmest months, from a record, north and south."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from reconcile.house import House, Weather
from reconcile.house.outdoors import (
    ANOMALY_C,
    DAY_SD_C,
    MONTH_MEANS_TO_WAVE,
    SEASON_C,
    TABLE_SD_C,
    YEAR_DAYS,
    _expected_excess,
    climate_of,
    normal_year_degree_days,
)


def days_of(*days: date) -> np.ndarray:
    return np.array([day.toordinal() for day in days], dtype=float)


JANUARY, APRIL, JULY = date(2023, 1, 20), date(2023, 4, 21), date(2023, 7, 21)


@pytest.mark.parametrize(("zone", "sign"), [("America/Chicago", 1.0), ("Australia/Sydney", -1.0), ("UTC", 1.0)])
def test_the_coldest_and_warmest_months_make_a_year(zone: str, sign: float) -> None:
    climate = climate_of(House("x", (), timezone=zone, coldest_month_c=-4.0, warmest_month_c=24.0))
    assert climate is not None
    swing = 14.0 * MONTH_MEANS_TO_WAVE
    np.testing.assert_allclose(
        climate.at(days_of(JANUARY, APRIL, JULY)), [10.0 - sign * swing, 10.0, 10.0 + sign * swing], rtol=0, atol=0.4
    )
    assert climate.sd_c == DAY_SD_C
    np.testing.assert_allclose(climate.doubt_at(days_of(JANUARY)), ANOMALY_C, rtol=1e-12)


def test_a_year_s_record_makes_the_same_year_and_says_how_sure_it_is() -> None:
    first = date(2023, 1, 1)
    turn = 2.0 * np.pi * (np.arange(365) - 20) / YEAR_DAYS
    whole = Weather(first, 10.0 - 14.0 * np.cos(turn), 0)
    climate = climate_of(House("x", (), weather=whole))
    assert climate is not None
    np.testing.assert_allclose(climate.at(days_of(JANUARY, JULY)), [-4.0, 24.0], rtol=0, atol=0.6)
    part = np.where(np.arange(365) < 150, whole.mean_c, np.nan)
    fitted = climate_of(House("x", (), weather=Weather(first, part, 215)))
    assert fitted is not None
    known, unknown = fitted.doubt_at(days_of(date(2023, 3, 1), date(2023, 9, 15)))
    assert fitted.doubt is not None
    angle = 2.0 * np.pi * date(2023, 9, 15).toordinal() / YEAR_DAYS
    row = np.array([1.0, math.cos(angle), math.sin(angle)])
    assert unknown == pytest.approx(math.sqrt(ANOMALY_C**2 + row @ fitted.doubt @ row), rel=1e-12)
    assert ANOMALY_C < known < unknown


@pytest.mark.parametrize(("mean", "sd", "wanted"), [(0.0, 2.0, 0.797885), (3.0, 1.0, 3.000382), (-3.0, 1.0, 0.000382)])
def test_degrees_expected_of_a_day_about_its_mean(mean: float, sd: float, wanted: float) -> None:
    """sd phi(m / sd) + m Phi(m / sd), by the tables of the normal distribution."""
    assert _expected_excess(np.array([mean]), sd)[0] == pytest.approx(wanted, abs=1e-6)


def test_a_normal_year_of_degree_days_is_months_by_their_own_means() -> None:
    first = date(2022, 1, 1)
    days = np.arange(730)
    months = (np.datetime64(first, "D") + days).astype("datetime64[M]").astype(int) % 12
    record = Weather(first, months.astype(float), 0)  # 0 degC in January to 11 in December
    lengths = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    heating = sum(n * (18.0 - m) for m, n in enumerate(lengths))
    house = House("x", (), weather=record)
    assert normal_year_degree_days(house, 18.0) == pytest.approx(heating, rel=1e-12)
    cooling = sum(n * max(m - 5.0, 0.0) for m, n in enumerate(lengths))
    assert normal_year_degree_days(house, 5.0, cooling=True) == pytest.approx(cooling, rel=1e-12)


def test_one_cold_winter_is_no_normal_year_where_the_site_is_told() -> None:
    day = np.arange(365.0)
    normal = 10.0 - 12.0 * MONTH_MEANS_TO_WAVE * np.cos(2.0 * np.pi * (day - 19.5) / YEAR_DAYS)
    wanted, alone, both = (
        normal_year_degree_days(House("x", (), weather=weather, coldest_month_c=coldest, warmest_month_c=warmest), 16.0)
        for weather, coldest, warmest in (
            (Weather(date(2022, 1, 1), normal), None, None),
            (Weather(date(2022, 1, 1), normal - 2.0), None, None),
            (Weather(date(2022, 1, 1), normal - 2.0), -2.0, 22.0),
        )
    )
    assert alone > 1.15 * wanted
    assert both == pytest.approx(wanted, rel=0.08)
    assert both > wanted


def test_months_that_the_record_lacks_follow_the_climate() -> None:
    house = House("x", (), coldest_month_c=-4.0, warmest_month_c=24.0)
    turn = 2.0 * np.pi * (np.arange(365) - 19.5) / YEAR_DAYS
    normal = 10.0 - 14.0 * MONTH_MEANS_TO_WAVE * np.cos(turn)
    wanted = _expected_excess(18.0 - normal, DAY_SD_C).sum()
    assert normal_year_degree_days(house, 18.0) == pytest.approx(wanted, rel=0.01)
    assert normal_year_degree_days(House("x", ()), 18.0) is None


def test_a_cold_winter_moves_no_summer_of_a_site_that_is_told() -> None:
    day = np.arange(212.0)  # October to April, 3 K colder than the table's
    course = 10.0 - 12.0 * MONTH_MEANS_TO_WAVE * np.cos(2.0 * np.pi * (day + 273 - 19.5) / YEAR_DAYS)
    rng = np.random.default_rng(1)
    winter = Weather(date(2021, 10, 1), course - 3.0 + 3.0 * rng.standard_normal(212))
    cold = House("x", (), weather=winter, coldest_month_c=-2.0, warmest_month_c=22.0)
    usual = replace(cold, weather=replace(winter, mean_c=winter.mean_c + 3.0))
    told, wanted = (normal_year_degree_days(house, 18.0) for house in (cold, usual))
    assert told is not None
    assert wanted is not None
    # a winter is heard as loudly as it is sure beside the table, in its own seven months alone
    heard = (TABLE_SD_C / SEASON_C) ** 2
    assert told - wanted == pytest.approx(3.0 * 212 * heard / (heard + 1.0), rel=0.1)
