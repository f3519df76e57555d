"""Days of weather that are missing make no cause and no mark that the whole record does not give."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from reconcile.answer import reconcile
from reconcile.decide.hidden import BLIND_PERCENT, HIDES_PERCENT
from reconcile.house import Bill, House
from reconcile.kinds import Flag
from reconcile.paper import examine
from reconcile.read import read_house
from reconcile.weigh.weighing import weigh_house

SAMPLES = Path(__file__).parents[2] / "sample_bills"

CUTS = {
    "the first 122 days": lambda days: days >= 122,
    "the last 150 days": lambda days: days < days[-1] - 150,
    "a hole of 59 days": lambda days: (days < 200) | (days >= 259),
    "every other day": lambda days: days % 2 == 0,
    "a month kept": lambda days: (days >= 60) & (days < 90),
    "a day kept": lambda days: days == 77,
}


def cut(house: House, way: str) -> House:
    assert house.weather is not None
    keep = CUTS[way](np.arange(len(house.weather.mean_c)))
    return replace(house, weather=replace(house.weather, mean_c=np.where(keep, house.weather.mean_c, np.nan)))


@pytest.mark.parametrize("way", CUTS)
@pytest.mark.parametrize("name", ["all_well", "hourly_data", "cold_winter"])
def test_a_house_in_order_stays_in_order(name: str, way: str) -> None:
    answer = reconcile(cut(read_house(SAMPLES / name), way))
    assert max((cause.probability for cause in answer.causes if cause.code != "none"), default=0.0) < 0.5
    assert {row.flag for row in answer.rows} <= {Flag.WITHIN, Flag.NOT_JUDGED}


def test_a_bill_of_few_known_days_convicts_nobody_and_vouches_for_nothing() -> None:
    house = cut(read_house(SAMPLES / "all_well"), "a hole of 59 days")
    judged = weigh_house(house, examine(house)).judged
    thin = ~judged
    assert 0 < thin.sum() < 4
    bills = tuple(
        replace(bill, kwh=3.0 * bill.kwh, reading_start=None, reading_end=None) if thin[i] and bill.kwh else bill
        for i, bill in enumerate(house.bills)
    )
    before, after = reconcile(house), reconcile(replace(house, bills=bills))
    assert [row.flag for row in after.rows] == [row.flag for row in before.rows]
    assert [row.usual_kwh for row in after.rows] == [row.usual_kwh for row in before.rows]
    assert all(before.rows[i].flag == Flag.NOT_JUDGED for i in np.flatnonzero(thin))


@pytest.mark.parametrize(("bills", "short"), [(10, True), (14, False)])
def test_less_than_a_year_of_bills_alone_gives_no_all_clear(bills, short):
    """Without temperatures or a list a change may be a season, and before the year is round nothing says which."""
    edges = [date(2025, 1, 1) + timedelta(days=30 * i) for i in range(bills + 1)]
    kwh = [400.0, 390.0, 385.0, 340.0, 330.0, 310.0, 305.0, 320.0, 340.0, 390.0, 400.0, 395.0, 390.0, 385.0][:bills]
    home = House("bare", tuple(Bill(a, b, kwh=k) for (a, b), k in zip(pairwise(edges), kwh, strict=True)))
    verdict = reconcile(home).verdict
    assert ("a rise of any size" in verdict.headline) == short
    assert ({"more-bills", "more-weather", "more-loads"} <= {step.code for step in verdict.next_steps}) == short
    # a year tells to about two fifths, no more: what a season takes may differ from the last one's
    hidden = verdict.could_hide.percent
    assert (hidden is not None and hidden < 45.0) != short


@pytest.mark.parametrize("sample", ["all_well", "cold_winter", "bills_only"])
def test_an_all_clear_is_only_given_where_a_rise_would_have_shown(sample):
    house = read_house(SAMPLES / sample)
    for home in (house, replace(house, weather=None, loads=(), interval=None)):
        verdict = reconcile(home).verdict
        if verdict.rule != "explained" or verdict.cannot_tell or home.interval is not None:
            continue
        seen = verdict.smallest_visible_meter_error_percent
        hidden = math.inf if seen is None else seen
        assert verdict.headline.startswith("Every bill is what") == (hidden < HIDES_PERCENT)
        assert verdict.headline.startswith("No bill stands out") == (HIDES_PERCENT <= hidden < BLIND_PERCENT)
        assert verdict.blind == (hidden >= BLIND_PERCENT)
        assert ("could hide" in verdict.headline) == (hidden >= HIDES_PERCENT)
        wanted = {"more-weather"} if home.weather is None else {"more-loads"} if not home.loads else set()
        assert hidden < HIDES_PERCENT or wanted <= {step.code for step in verdict.next_steps}


def test_a_summer_half_as_high_again_is_not_cleared_by_bills_alone():
    """Nothing but the bills of one year: use from June on may be the season or not; nobody is told that all is well."""
    edges = [date(2025, 8, 12) + timedelta(days=30 * i) for i in range(13)]
    kwh = [700, 560, 480, 500, 540, 520, 470, 450, 520 * 1.5, 640 * 1.5, 760 * 1.5, 740 * 1.5]
    home = House("bare", tuple(Bill(a, b, kwh=float(k)) for (a, b), k in zip(pairwise(edges), kwh, strict=True)))
    answer = reconcile(home)
    assert not answer.verdict.headline.startswith("Every bill is what")
    assert answer.verdict.blind or answer.verdict.decision == "outside-check"


COLD_WINTER = (
    1413, 1321, 939, 568, 477, 547, 531, 439, 451, 741, 1103, 1886, 2164, 1407, 937, 548, 444, 597, 557, 482, 672, 718,
    1317, 1344,
)  # fmt: skip
"""An all-electric invented house: its second winter was 6 K colder, and nothing else happened."""


def test_a_colder_winter_is_no_load_where_nothing_is_known_of_the_weather() -> None:
    edges = [date(2024, 1, 9) + timedelta(days=round(31.1 * i)) for i in range(len(COLD_WINTER) + 1)]
    bills = tuple(Bill(a, b, kwh=float(kwh)) for (a, b), kwh in zip(pairwise(edges), COLD_WINTER, strict=True))
    answer = reconcile(House("Cold", bills))
    assert not [cause for cause in answer.causes if cause.code not in ("none", "unlisted") and cause.probability > 0.4]
