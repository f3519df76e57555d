"""Reading edges: a day of reading that nobody printed widens both neighbors, and what one gains the other loses."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import reconcile
from reconcile.house import House
from reconcile.paper import examine
from reconcile.read import read_house
from reconcile.weigh.model import build

SAMPLES = Path(__file__).parents[2] / "sample_bills"


def doubted(home: House, days: float) -> House:
    return replace(home, bills=tuple(replace(bill, edge_doubt_days=days) for bill in home.bills))


def test_inferred_days_enter_both_neighbors_with_opposite_sign():
    home = read_house(SAMPLES / "all_well")
    facts = examine(home)
    usual, wide = build(home, facts).noise, build(doubted(home, 3.0), facts).noise
    model = build(home, facts)
    level = float((model.mean / model.days).mean())
    one = (3.0 / (0.95 * np.sqrt(3.0)) * level) ** 2
    more = wide - usual
    n = len(home.bills)
    assert np.diagonal(more) == pytest.approx(np.full(n, 2.0 * one), rel=1e-9)
    assert np.diagonal(more, 1) == pytest.approx(np.full(n - 1, -one), rel=1e-9)
    # the total of all bills is moved by the two ends alone
    assert more.sum() == pytest.approx(2.0 * one, rel=1e-9)


def test_the_doubt_of_one_neighbor_is_the_doubt_of_the_reading():
    home = read_house(SAMPLES / "all_well")
    facts = examine(home)
    one = replace(home, bills=(*home.bills[:4], replace(home.bills[4], edge_doubt_days=2.0), *home.bills[5:]))
    more = build(one, facts).noise - build(home, facts).noise
    assert more[3, 4] < 0
    assert more[3, 4] == pytest.approx(more[4, 5], rel=1e-9)
    assert more[3, 3] == pytest.approx(-more[3, 4], rel=1e-9)


def test_a_reading_four_days_late_is_no_flag_where_the_days_were_inferred():
    home = read_house(SAMPLES / "all_well")
    sixth, seventh = home.bills[5], home.bills[6]
    moved = 4.0 * sixth.kwh / sixth.days
    bills = list(home.bills)
    bills[5] = replace(sixth, kwh=sixth.kwh + moved, reading_end=None, reading_start=None)
    bills[6] = replace(seventh, kwh=seventh.kwh - moved, reading_end=None, reading_start=None)
    bills = [replace(bill, reading_start=None, reading_end=None, amount=None) for bill in bills]
    late = replace(home, bills=tuple(bills), charges=())
    printed, inferred = reconcile.reconcile(late), reconcile.reconcile(doubted(late, 4.0))
    width = [row.usual_high_kwh - row.usual_low_kwh for row in printed.rows]
    wider = [row.usual_high_kwh - row.usual_low_kwh for row in inferred.rows]
    assert np.median(np.array(wider) / np.array(width)) > 1.0
    assert [row.flag for row in inferred.rows].count("within") == len(bills)
