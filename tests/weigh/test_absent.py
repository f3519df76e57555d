"""Long absences that the diary tells of are no causes, and hide none."""

from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest

from reconcile import reconcile
from reconcile.house import Bill, Event, House

STARTS = [date(2023, 3, 6) + timedelta(days=30 * n) for n in range(25)]
AWAY = ((date(2023, 11, 20), date(2024, 2, 25)), (date(2024, 11, 18), date(2025, 2, 10)))


def home(more: float = 0.0) -> House:
    """Two years of a house that is left each winter, with so much more a day [kWh] from the second May on."""
    wander = np.random.default_rng(5).normal(1.0, 0.05, 24)
    bills = []
    for at, (start, end) in enumerate(pairwise(STARTS)):
        empty = sum(a <= start + timedelta(days=d) <= b for a, b in AWAY for d in range(30))
        used = (30 - 0.65 * empty) * 20.0 * wander[at] + (30 * more if at >= 14 else 0.0)
        bills.append(Bill(start, end, float(round(used))))
    return House("x", tuple(bills), events=tuple(Event(a, "away", until=b) for a, b in AWAY))


def test_a_house_left_each_winter_by_its_diary_has_no_cause() -> None:
    told = reconcile(home())
    assert max((c.probability for c in told.causes if c.code != "none"), default=0.0) < 0.3
    assert told.verdict.decision == "explained"
    assert any("nobody was at home" in notice for notice in told.notices)


@pytest.mark.parametrize("more", [5.0, 8.0])
def test_a_load_that_came_to_it_is_looked_for(more: float) -> None:
    told = reconcile(home(more))
    assert told.verdict.decision == "outside-check"
    assert told.causes[0].code == "constant-load"
