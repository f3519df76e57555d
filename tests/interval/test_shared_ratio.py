"""One ratio over bills whose readings were each taken at an hour of its own."""

from dataclasses import replace

import numpy as np
import pytest
from interval_houses import made

from reconcile import reconcile
from reconcile.facts import Facts
from reconcile.interval import examine, findings
from reconcile.interval.mismatch import edges_told
from reconcile.report.pages.letter import letter_text
from reconcile.say import Voice
from reconcile.texts.findings import finding_text

HOURS = [9, 16, 8, 13, 11, 15, 7, 12, 14]


def billed(ratio, first, *, hours=HOURS):
    house, facts = made(hours=hours)
    kwh = facts.billed_kwh.copy()
    kwh[first:] = np.round(ratio * kwh[first:])
    return replace(house, bills=tuple(replace(b, kwh=float(k)) for b, k in zip(house.bills, kwh, strict=True))), kwh


@pytest.mark.parametrize(("ratio", "first"), [(1.2, 6), (1.1, 6), (0.9, 4), (1.05, 4), (1.2, 2), (1.1, 0), (0.8, 0)])
def test_bills_that_stand_in_one_ratio_to_their_hours_are_one_finding_whatever_the_hours(ratio, first):
    house, kwh = billed(ratio, first)
    result = examine(house, Facts(kwh))
    assert [tie.within for tie in result.tie_out] == [i < first for i in range(8)]
    (finding,) = findings(result, house)
    assert (finding.key, finding.periods, finding.settles) == ("interval-mismatch/ratio", tuple(range(first, 8)), True)
    assert finding.figures["ratio"] == pytest.approx(ratio, abs=0.01)
    assert finding.kwh == pytest.approx(kwh[first:].sum() * (1.0 - 1.0 / ratio), rel=0.1)
    text = finding_text(finding, Voice())
    assert f"{8 - first} bills are each" in text
    assert f"{abs(finding.kwh):,.0f} kWh {'more' if ratio > 1.0 else 'less'}" in text


def test_the_letter_asks_for_the_multiplier_of_all_bills_in_the_ratio():
    house, _ = billed(1.2, 6)
    letter = letter_text(reconcile(house))
    assert "2 bills are each" in letter
    assert "multiplier" in letter.split("I ask you to")[1]


def test_hours_that_scatter_are_no_ratio():
    for hours in (HOURS, [0, 23, 1, 22, 3, 20, 0, 23, 2]):
        house, kwh = billed(1.0, 0, hours=hours)
        result = examine(house, Facts(kwh))
        assert result.ratio is None
        assert all(tie.within for tie in result.tie_out)
        assert findings(result, house) == ()


def test_bills_of_another_home_come_near_no_ratio():
    """Some of its months lie near one ratio by chance, and the more nearly its use follows this home's."""
    house, facts = made(hours=HOURS)
    for seed in range(12):
        months = np.repeat(np.random.default_rng(seed).uniform(0.8, 1.2, 40), 24 * 15)[: len(house.interval.kwh)]
        other = replace(house, interval=replace(house.interval, kwh=house.interval.kwh * months))
        assert examine(other, facts).ratio is None, seed


def test_days_that_are_not_known_blame_no_bill():
    """Months stand for the periods: what a bill is off may be the days by which its readings were early or late."""
    house, facts = made(hours=[24 * d + 10 for d in (0, 3, -2, 2, -3, 1, 5, -1, 2)])
    bills = tuple(replace(bill, edge_doubt_days=3.0) for bill in house.bills)
    result = examine(replace(house, bills=bills), facts)
    assert result.reading_hour is None
    assert findings(result, house) == ()
    assert {(tie.within, tie.why) for tie in result.tie_out} == {(None, "days-in-doubt")}
    assert edges_told(result.tie_out) == (frozenset(), frozenset())
