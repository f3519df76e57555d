"""A list of loads that lacks something: what is claimed, in figures that the table of loads bears out."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from speech import difference_said

from reconcile.answer import reconcile
from reconcile.grounds.load_shares import too_large
from reconcile.read import read_house
from reconcile.report.screens.terminal import terminal_text
from reconcile.report.views.view import view
from reconcile.result import Reconciliation

SAMPLES = Path(__file__).parents[2] / "sample_bills"
WEIGHED = (
    "all_well", "cold_winter", "estimated_read", "fast_meter", "fast_meter_checked", "hourly_data", "mistyped_bill",
    "new_load_in_may",
)  # fmt: skip


def short_list(watts: float, cooling: float, sample: str = "all_well") -> Reconciliation:
    """Weigh a sample with so much more in every bill, and its cooling listed so many times as large."""
    house = read_house(SAMPLES / sample)
    loads = tuple(
        replace(load, watts=cooling * load.watts) if load.follows == "cooling" and load.watts else load
        for load in house.loads
    )
    bills = tuple(
        replace(
            bill, kwh=(bill.kwh or 0.0) + 0.024 * watts * (bill.end - bill.start).days, amount=None,
            reading_start=None, reading_end=None,
        )
        for bill in house.bills
    )  # fmt: skip
    return reconcile(replace(house, loads=loads, bills=bills, interval=None))


@pytest.fixture(scope="module", params=[1.0, 1.6])
def short(request: pytest.FixtureRequest) -> Reconciliation:
    return short_list(250.0, request.param)


def test_what_is_missing_is_told_in_watts_with_its_limits(short: Reconciliation) -> None:
    """A grand total of kWh beside a list that asks for as much as was billed says nothing true."""
    missing = max(short.causes, key=lambda cause: cause.probability)
    assert missing.code == "unlisted"
    size, what = view(short)["figures"][0]
    assert re.fullmatch(r"about [\d,]+ W|[\d,]+ W", size)
    assert re.search(r"not on the list \(about \d+ %\) \[[\d,]+ to [\d,]+ W\]", what)
    said = terminal_text(short, 100, full=True)
    assert "because of it" not in said
    assert not any(cause["kwh"] for cause in view(short)["causes"] if cause["name"] == "loads missing from the list")


def test_the_table_of_loads_bears_out_what_is_claimed(short: Reconciliation) -> None:
    """What is missing by its chance is in the row of what is not on the list, and the list gives way for it."""
    missing = next(cause for cause in short.causes if cause.code == "unlisted")
    rest = short.loads[-1]
    assert rest.reconciled_kwh - rest.expected_kwh == pytest.approx(missing.probability * (missing.kwh or 0.0), rel=0.1)
    assert rest.low_kwh < rest.expected_kwh + 0.25 * 24 * sum(row.days for row in short.rows) < rest.high_kwh


def test_a_list_too_large_and_too_short_at_once_is_said_so() -> None:
    assert not too_large(short_list(250.0, 1.0).loads)  # its cooling is as large as listed
    short = short_list(250.0, 1.6)
    large = dict(too_large(short.loads))
    assert "Central air" in large
    said = " ".join(short.verdict.headline.split())
    assert "Parts of the list look too large at the same time (Central air by about" in said
    assert "differ in shape" in terminal_text(short, 100, full=True)


@pytest.mark.parametrize("sample", WEIGHED)
def test_the_difference_under_the_load_list_is_what_is_said_of_it(sample: str) -> None:
    """Chance times kWh of the causes as printed, what bills left out hold, and no more rounding than the rows bear."""
    result = reconcile(read_house(SAMPLES / sample))
    assert not list(difference_said(result))


def test_the_difference_of_a_short_list_is_what_is_said_of_it(short: Reconciliation) -> None:
    assert not list(difference_said(short))


def test_a_walk_through_the_house_comes_near_no_meter(short: Reconciliation) -> None:
    walk = next(step for step in short.verdict.next_steps if step.code == "walk-through")
    assert not walk.cautions
