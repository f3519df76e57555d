"""The answer as one page that needs nothing else, no network and no script; in short for a notebook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile import __version__
from reconcile.report.drawn.bridge_figure import bridge_figure
from reconcile.report.drawn.by_row import cause_chances, doubt_by_load, where_kwh_go
from reconcile.report.drawn.over_time import (
    bills_against_bands,
    excess_by_period,
    visible_constant_load,
    visible_meter_error,
)
from reconcile.report.drawn.picture import picture, small_picture
from reconcile.report.pages.templating import environment
from reconcile.report.views.first_view import causes_told
from reconcile.report.views.money_view import field_test_view, money_view
from reconcile.report.views.view import view

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes

    from reconcile.result import Reconciliation

SMALL = ("causes", "doubt", "loads", "bridge", "visible_meter", "visible_watts")
"""Figures that a wide page would only stretch."""
GENERATOR = "reconcile"
"""What the page's ``generator`` says: by it the program knows its own earlier pages."""


def render(result: Reconciliation) -> str:
    """Return the whole report as one self-contained HTML page.

    Returns
    -------
    str
        The same bytes for the same answer.
    """
    pictures = {
        name: (small_picture if name in SMALL else picture)(draw, result) for name, draw in _wanted(result).items()
    }
    if result.field_test is not None and any(r.registration_percent is not None for r in result.field_test.runs):
        from reconcile.report.drawn.field_figures import verdict_zones

        pictures["field_test"] = picture(verdict_zones, result.field_test)
    return laid_out(result, pictures)


def laid_out(result: Reconciliation, pictures: dict[str, dict[str, str]]) -> str:
    """Return the page around pictures that are drawn, by the names of :func:`_wanted`."""
    told = {**view(result), "money": money_view(result), "field_test": field_test_view(result)}
    page = environment().get_template("report.html")
    return page.render(**told, pictures=pictures, generator=f"{GENERATOR} {__version__}")


def snippet(result: Reconciliation) -> str:
    """Return the answer in short, to stand in a notebook's cell."""
    pictures = {"bills": picture(bills_against_bands, result)}
    return environment().get_template("snippet.html").render(**view(result), pictures=pictures)


def _wanted(result: Reconciliation) -> dict[str, Callable[..., Axes]]:
    """Figures that have something to show."""
    wanted: dict[str, Callable[..., Axes]] = {"bills": bills_against_bands}
    if any(row.excess_kwh is not None for row in result.rows):
        wanted["excess"] = excess_by_period
    if result.house.loads and result.loads:
        wanted["loads"] = where_kwh_go
        wanted["doubt"] = doubt_by_load
    if causes_told(result):
        wanted["causes"] = cause_chances
    if result.money is not None and result.money.bridge is not None:
        wanted["bridge"] = bridge_figure
    if result.visible is not None and result.visible.onset:
        wanted["visible_meter"] = visible_meter_error
        wanted["visible_watts"] = visible_constant_load
    if result.interval is not None and result.house.interval is not None:
        wanted |= _of_interval(result)
    return wanted


def _of_interval(result: Reconciliation) -> dict[str, Callable[..., Axes]]:
    """Figures of the interval data that have something to show."""
    from reconcile.report.drawn import interval_figures as of

    data = result.interval
    wanted: dict[str, Callable[..., Axes]] = {"year_map": of.year_map, "base_load": of.base_load_over_time}
    if data is not None and data.gain is not None:
        wanted["step_sizes"] = of.step_sizes
    if result.house.weather is not None:
        wanted["daily"] = of.daily_against_weather
    if data is not None and data.tie_out:
        wanted["tie_out"] = of.tie_out_by_bill
    return wanted
