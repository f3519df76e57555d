"""Figures of interval data are drawn, tell themselves, and say so where there is nothing to draw."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
import switching_homes as homes
from contrast import contrast
from matplotlib.backends.backend_agg import FigureCanvasAgg

import reconcile
from reconcile.house import Bill
from reconcile.report.drawn import drawing
from reconcile.report.drawn import interval_figures as figures

EVERY = (
    figures.year_map,
    figures.step_sizes,
    figures.base_load_over_time,
    figures.daily_against_weather,
    figures.tie_out_by_bill,
)
SAYS = {
    "year_map": "Power by day and hour",
    "step_sizes": "they moved together",
    "base_load_over_time": "Base load by night",
    "daily_against_weather": "Daily use against temperature",
    "tie_out_by_bill": "4 of 5 bills",
}


@cache
def answered():
    made = homes.with_load(homes.home(3, 160), 250.0, 60)
    house = homes.as_house(made, homes.metered(made, 5, gain=0.15, since=90))
    edges = [made.first + timedelta(days=30 * i) for i in range(6)]
    daily = house.interval.kwh[: 150 * 288].reshape(-1, 288).sum(axis=1)
    kwh = np.round(daily.reshape(-1, 30).sum(axis=1))
    kwh[2] += 80.0
    bills = tuple(Bill(a, b, float(k)) for (a, b), k in zip(pairwise(edges), kwh, strict=True))
    return reconcile.reconcile(replace(house, bills=bills))


def drawn(figure, result, width):
    with drawing.settings():
        ax = figure(result, width=width)
        FigureCanvasAgg(ax.get_figure()).draw()
    return ax


@pytest.mark.parametrize("width", [drawing.WIDE_INCHES, drawing.NARROW_INCHES])
@pytest.mark.parametrize("figure", EVERY, ids=lambda f: f.__name__)
def test_each_is_drawn_and_tells_itself(figure, width):
    ax = drawn(figure, answered(), width)
    assert SAYS[figure.__name__] in ax.get_label()


def test_a_home_that_used_nothing_is_drawn_too():
    result = answered()
    daily = result.interval.daily
    nothing = replace(result.interval, daily=replace(daily, kwh=np.zeros_like(daily.kwh)))
    low, high = drawn(figures.daily_against_weather, replace(result, interval=nothing), drawing.WIDE_INCHES).get_ylim()
    assert low < high


@pytest.mark.parametrize("figure", EVERY, ids=lambda f: f.__name__)
def test_without_data_it_says_so(figure):
    house = replace(answered().house, interval=None)
    ax = drawn(figure, reconcile.reconcile(house), drawing.WIDE_INCHES)
    assert any(text.get_text() for text in ax.texts)


@pytest.mark.parametrize("figure", EVERY, ids=lambda f: f.__name__)
def test_what_is_written_stands_out_from_the_paper(figure):
    ax = drawn(figure, answered(), drawing.WIDE_INCHES)
    for text in ax.texts:
        assert not text.get_text() or contrast(text.get_color()) >= 4.5, text.get_text()


@pytest.mark.parametrize("figure", EVERY, ids=lambda f: f.__name__)
def test_lines_and_marks_stand_out_from_the_paper(figure):
    ax = drawn(figure, answered(), drawing.WIDE_INCHES)
    for line in ax.lines:
        if line.get_color() not in ("white", drawing.PALE):  # a white line only lifts another off what is behind it
            assert contrast(line.get_color()) >= 3.0, line.get_color()
    for name in ("USUAL", "LISTED", "OVER", "UNDER", "WITHIN", "OPEN"):
        assert contrast(getattr(drawing, name)["edgecolor"]) >= 3.0, name
