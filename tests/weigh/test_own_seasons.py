"""Bills alone of years: what their own seasons say of heating and cooling tells a rise of either from a fast meter."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from reconcile import Reconciliation, reconcile
from reconcile.house import Bill, House
from reconcile.loads.energy import load_energy
from reconcile.weigh.unknown_weather import own_seasons

BACKUP = [
    1360, 1790, 1700, 1540, 1170, 520, 600, 350, 300, 320, 340, 580, 1270, 1810, 3500, 2840, 2050, 1790, 470, 660, 300,
    330, 630, 980, 1880, 3380, 2660, 2730, 2370, 1900, 1020, 470, 350, 420, 500, 780,
]  # fmt: skip
"""From late October: a home whose heat pump runs on its backup heat from its second December on."""
REFRIGERANT = [
    690, 610, 280, 230, 190, 170, 330, 380, 620, 1050, 1110, 1240, 1040, 680, 420, 170, 160, 240, 240, 650, 1350, 1310,
    1530, 1640, 1280, 1000, 330, 180, 180, 230, 380, 610, 1170, 1160, 1450, 1460,
]  # fmt: skip
"""From late August: a home whose air conditioner has lost refrigerant since its second spring."""
EVEN = [
    1150, 1580, 1880, 2050, 1460, 900, 620, 450, 390, 390, 560, 920, 1040, 1780, 1930, 1680, 940, 890, 580, 400, 500,
    390, 530, 1120, 1160, 1930, 2440, 1590, 1060, 790, 510, 550, 440, 370, 560, 900,
]  # fmt: skip
"""From late October: a home that is heated by electricity, in order."""


def house(kwh: list[int], month: int, times: float = 1.0, since: int = 0) -> House:
    """Bills alone, from the 21st of a month on, metered so many times from one of them on."""
    days = [date(2022 + (month - 1 + k) // 12, (month - 1 + k) % 12 + 1, 21) for k in range(len(kwh) + 1)]
    metered = np.where(np.arange(len(kwh)) >= since, times, 1.0).tolist()
    bills = tuple(Bill(a, b, kwh=round(k * m)) for a, b, k, m in zip(days, days[1:], kwh, metered, strict=False))
    return House(name="seasons", bills=bills)


def rises(said: Reconciliation) -> dict[str, float]:
    chance = {cause.code: cause.probability for cause in said.causes}
    return {follows: chance.get(f"{follows}-rise", 0.0) for follows in ("heating", "cooling")}


@pytest.mark.parametrize(
    ("kwh", "month", "follows", "season"), [(BACKUP, 10, "heating", "cold"), (REFRIGERANT, 8, "cooling", "hot")]
)
def test_seasons_that_alone_take_more_are_no_meter(kwh: list[int], month: int, follows: str, season: str) -> None:
    said = reconcile(house(kwh, month))
    assert rises(said)[follows] > 0.7
    assert (said.verdict.meter_fast_probability or 0.0) < 0.25
    assert said.verdict.decision != "field-test"
    text = next(cause.text for cause in said.causes if cause.code == f"{follows}-rise")
    assert f"more than in the {season} months before" in text  # nobody knows their weather


def test_the_rise_decides_before_a_bill_that_may_be_misread() -> None:
    said = reconcile(house(BACKUP, 10))
    assert any(cause.code == "swap" and cause.probability > 0.5 for cause in said.causes)
    assert said.verdict.decision == "inventory"
    assert "billing desk" not in said.verdict.headline


@pytest.mark.parametrize("month", [10, 4])
def test_seasons_and_what_is_between_them_are_a_meter(month: int) -> None:
    said = reconcile(house(EVEN, month, 1.5, 13))
    assert (said.verdict.meter_fast_probability or 0.0) > 0.5
    assert max(rises(said).values()) < 0.4


@pytest.mark.parametrize("month", [10, 4])
def test_years_alike_are_no_cause(month: int) -> None:
    said = reconcile(house(EVEN, month))
    assert said.verdict.decision == "explained"
    assert max(rises(said).values()) < 0.1


@pytest.mark.parametrize(("kwh", "month", "kind"), [(EVEN, 10, 0), (EVEN, 4, 1), (REFRIGERANT, 8, 1)])
def test_a_season_of_the_bills_is_heated_or_cooled(kwh: list[int], month: int, kind: int) -> None:
    one = house(kwh, month)
    used, days = np.array(kwh, dtype=float), np.array([bill.days for bill in one.bills], dtype=float)
    own = own_seasons(load_energy(one.bills, one), days, used)
    assert own.least.sum() == pytest.approx(1.0)
    assert used[own.least > 0.0].max() < np.median(used)
    assert own.depth[:, kind].sum() > 5.0 * own.depth[:, 1 - kind].sum()


def test_bills_without_kwh_have_no_season() -> None:
    one = house(EVEN, 10)
    own = own_seasons(load_energy(one.bills, one), np.full(36, 30.0), np.full(36, np.nan))
    assert own.least.sum() == pytest.approx(1.0)
    assert np.isfinite(own.depth).all()
