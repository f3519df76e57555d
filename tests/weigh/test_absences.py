"""An empty house for some bills on end, from bills alone: what is usual is what the other bills show."""

from __future__ import annotations

import math
from datetime import date

import pytest

import reconcile
from reconcile.house import Bill, House

USE = (
    746,
    765,
    776,
    851,
    805,
    790,
    840,
    913,
    897,
    820,
    850,
    830,
    856,
    830,
    868,
    806,
    790,
    719,
    848,
    755,
    886,
    756,
    892,
)


def edges(count):
    return [date(2023 + (k + 0) // 12, k % 12 + 1, 15) for k in range(count + 1)]


def house(place, length, low=95.0):
    use = [float(kwh) for kwh in USE]
    use[place : place + length] = [low] * length
    days = edges(len(use))
    return House("empty", tuple(Bill(a, b, kwh=kwh) for a, b, kwh in zip(days, days[1:], use, strict=False)))


@pytest.mark.parametrize("length", [2, 3])
@pytest.mark.parametrize("place", [1, 2, 3, 6, 9, 13, 17])
def test_empty_bills_on_end_are_low_and_the_others_usual(place, length):
    answer = reconcile.reconcile(house(place, length))
    flags = list(answer.periods["flag"])
    assert [k for k, flag in enumerate(flags) if flag == "under"] == list(range(place, place + length))
    assert "over" not in flags
    cause = answer.causes[0]
    assert (cause.code, cause.since) == ("single-period", edges(30)[place])
    assert cause.probability > 0.8
    assert f"{length} bills on end are low" in cause.text
    assert cause.size == pytest.approx(-sum(USE[place : place + length]) + 95.0 * length, rel=0.15)


def test_a_load_that_came_is_still_a_load():
    use = [300.0 + 3.0 * (k % 5) for k in range(4)] + [620.0 + 5.0 * (k % 4) for k in range(16)]
    days = edges(len(use))
    bills = tuple(Bill(a, b, kwh=kwh) for a, b, kwh in zip(days, days[1:], use, strict=False))
    answer = reconcile.reconcile(House("more", bills))
    assert answer.causes[0].code in ("constant-load", "habit-step")


@pytest.mark.parametrize("place", [5, 11, 16])
@pytest.mark.parametrize("length", [2, 3])
@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_estimates_that_nobody_marked_and_the_reading_after_them_are_one_event(place, length, side):
    use = [0.8 * kwh for kwh in USE]
    part = 0.8 / length
    moved = part * sum(use[place : place + length])
    for k in range(place, place + length):
        use[k] *= 1.0 + part * side
    use[place + length] -= side * moved
    days = edges(len(use))
    bills = tuple(Bill(a, b, kwh=kwh) for a, b, kwh in zip(days, days[1:], use, strict=False))
    answer = reconcile.reconcile(House("estimates", bills))
    cause = answer.causes[0]
    assert (cause.code, cause.since) == ("swap", edges(30)[place])
    # three low months may be a cool summer, or a mild winter, before one high bill: nothing is known of the weather
    assert cause.probability > (0.5 if (length, side) == (3, -1.0) else 0.8)
    assert f"the {length} bills from" in cause.text
    assert ("more than was used" if side > 0 else "less than was used") in cause.text
    assert answer.verdict.rule == "moved"


@pytest.mark.parametrize("part", [-0.4, 0.45])
def test_an_estimate_of_the_coldest_month_that_the_next_makes_good_is_one_event(part):
    days = [date(2024 + (k + 2) // 12, (k + 2) % 12 + 1, 12) for k in range(21)]
    cold = [11.0 - 13.0 * math.cos(2.0 * math.pi * (day.timetuple().tm_yday - 5) / 365.0) for day in days[:-1]]
    use = [400.0 + 60.0 * max(16.0 - c, 0.0) + 4.0 * (k * 7 % 5 - 2) for k, c in enumerate(cold)]
    moved = part * use[10]  # nearly a whole month of the mean, and less than half of its own
    use[10], use[11] = use[10] + moved, use[11] - moved
    bills = tuple(
        Bill(a, b, kwh=kwh, mean_temperature_c=c) for a, b, kwh, c in zip(days, days[1:], use, cold, strict=False)
    )
    cause = reconcile.reconcile(House("cold", bills)).causes[0]
    assert (cause.code, cause.since) == ("swap", days[10])
    assert cause.probability > 0.95
    assert cause.size == pytest.approx(moved, rel=0.2)
