"""Figures of the answer: each is ``(result, ax=None) -> Axes``, and tells itself in words in its label.

``width`` is that of the figure made where no axes are given [in]. Time runs in days along the x axis, so
long and short periods keep their true width.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.on_demand import names_of
from reconcile.report.drawn.bridge_figure import bridge_figure
from reconcile.report.drawn.by_row import cause_chances, doubt_by_load, where_kwh_go
from reconcile.report.drawn.over_time import (
    bills_against_bands,
    excess_by_period,
    visible_constant_load,
    visible_meter_error,
)

if TYPE_CHECKING:
    from reconcile.report.drawn.interval_figures import (
        base_load_over_time,
        daily_against_weather,
        step_sizes,
        tie_out_by_bill,
        year_map,
    )

_OF_INTERVAL_DATA = ("base_load_over_time", "daily_against_weather", "step_sizes", "tie_out_by_bill", "year_map")
__getattr__ = names_of(__name__, dict.fromkeys(_OF_INTERVAL_DATA, "reconcile.report.drawn.interval_figures"))

__all__ = [
    "base_load_over_time",
    "bills_against_bands",
    "bridge_figure",
    "cause_chances",
    "daily_against_weather",
    "doubt_by_load",
    "excess_by_period",
    "step_sizes",
    "tie_out_by_bill",
    "visible_constant_load",
    "visible_meter_error",
    "where_kwh_go",
    "year_map",
]
