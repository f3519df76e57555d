"""What heating may have taken more unseen: one winter is held by the list alone, a second one by the first."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

import reconcile
from reconcile.house import Bill, House, Interval, Load, Weather
from reconcile.texts.headline_parts import in_season


def heated(bills, more=1.0, source="guessed", hourly=False):
    """A house in order with a heater of unknown hours, billed from April on; ``more`` times from the last fall."""
    dice = np.random.default_rng(11)
    first = date(2023, 4, 1)
    days = np.arange(30 * bills)
    warmth = 11.0 - 12.0 * np.cos(2 * np.pi * (days + 75.0) / 365.0) + dice.normal(0.0, 3.0, len(days))
    heat = 1.6 * np.maximum(16.0 - warmth, 0.0)
    heat[(bills - 8) * 30 :] *= more
    used = (9.0 + heat).reshape(bills, 30).sum(axis=1) * dice.normal(1.0, 0.02, bills)
    loads = (
        Load("baseboard heat", watts=6000.0, follows="heating", source=source),
        Load("everything else", watts=375.0, follows="always", share_on=0.9, source="nameplate"),
    )
    rows = tuple(
        Bill(first + timedelta(30 * i), first + timedelta(30 * (i + 1)), kwh=float(round(kwh)))
        for i, kwh in enumerate(used)
    )
    starts = np.datetime64(first) + np.arange(24 * len(days)) * np.timedelta64(1, "h")
    kwh = np.repeat((9.0 + heat) * np.repeat(used / (9.0 + heat).reshape(bills, 30).sum(axis=1), 30), 24) / 24.0
    data = Interval(starts.astype("datetime64[s]"), kwh, 3600) if hourly else None
    return House("h", rows, loads=loads, weather=Weather(first, warmth), interval=data)


def heating_of(house):
    answer = reconcile.reconcile(house)
    return answer, next(one for one in answer.verdict.weather_could_hide if one.follows == "heating")


@pytest.mark.parametrize("hourly", [False, True])
def test_with_one_winter_an_all_clear_says_how_much_heating_could_hide(hourly):
    answer, hidden = heating_of(heated(13, hourly=hourly))
    assert hidden.more_percent is None or hidden.more_percent > 40.0
    assert "should have used" not in answer.verdict.headline
    assert in_season(answer.voice, {"heating": hidden.more_percent}) in answer.verdict.headline


def test_a_second_winter_narrows_it():
    answer, one = heating_of(heated(13))
    answer, two = heating_of(heated(25))
    assert two.more_percent < 40.0
    assert one.more_percent is None or two.more_percent < 0.6 * one.more_percent
    assert in_season(answer.voice, {"heating": two.more_percent}) in answer.verdict.meter_line
    assert answer.to_dict()["verdict"]["weather_could_hide"][0]["follows"] == "heating"


def test_more_than_could_hide_is_told():
    _, hidden = heating_of(heated(25))
    answer = reconcile.reconcile(heated(25, more=1.0 + hidden.more_percent / 100.0))
    assert next((cause.probability for cause in answer.causes if cause.code == "none"), 0.0) < 0.5
