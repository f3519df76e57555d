"""Bills that charge one factor times their readings from some day on, and registers that go on elsewhere."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import accumulate, pairwise

import pytest

import reconcile
from reconcile.house import Bill, House
from reconcile.paper import examine
from reconcile.report.pages.letter import letter_text

READ = (704, 655, 612, 560, 545, 702, 811, 790, 655, 540, 571, 668, 721, 640)
DAYS = [date(2024, 2, 6) + timedelta(30 * k) for k in range(len(READ) + 1)]


def charged(factor: float, since: int, until: int = len(READ)) -> House:
    """Fourteen bills with their readings, of which those from one on charge a factor times what was read."""
    registers = [*accumulate(READ, initial=31_250)]
    kwh = [round(n * factor) if since <= k < until else n for k, n in enumerate(READ)]
    bills = (
        Bill(a, b, kwh=float(k), amount=Decimal(f"{12 + 0.16 * k:.2f}"), reading_start=float(r), reading_end=float(s))
        for (a, b), (r, s), k in zip(pairwise(DAYS), pairwise(registers), kwh, strict=True)
    )
    return House("Ash Row", tuple(bills))


@pytest.mark.parametrize("factor", [1.2, 1.047, 0.8])
def test_one_factor_from_a_day_on_is_one_finding_that_settles_its_bills(factor: float) -> None:
    result = reconcile.reconcile(charged(factor, 8))
    (finding,) = result.findings
    assert (finding.key, finding.periods, finding.settles) == ("multiplier/readings", tuple(range(8, 14)), True)
    assert finding.figures["used"] == pytest.approx(factor, abs=1e-3)
    headline = result.verdict.headline
    assert headline.startswith(f"Since {result.voice.day(DAYS[8])}, each of 6 bills charges {factor} times")
    assert result.verdict.next_steps[0].code == "multiplier"
    assert "1. Since" in letter_text(result)
    assert not [cause for cause in result.causes if cause.code != "none" and cause.probability > 0.5]


def test_mismatches_of_several_sizes_are_no_factor_and_a_factor_that_ended_has_no_since() -> None:
    house = charged(1.0, 0)
    off = {3: 1.2, 6: 1.31, 9: 0.9, 11: 1.08}
    bills = tuple(replace(b, kwh=float(round(b.kwh * off.get(k, 1.0)))) for k, b in enumerate(house.bills))
    assert {f.code for f in examine(replace(house, bills=bills)).findings if f.settles} == {"reading-mismatch"}
    (ended,) = (f for f in examine(charged(1.2, 4, 8)).findings if f.settles)
    assert (ended.key, ended.figures["since"]) == ("multiplier/readings", False)
