"""The judged field test: one frozen object, one dictionary, from which every rendering is made."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, fields
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from reconcile.meter.budget import Component
from reconcile.meter.fork import Branch
from reconcile.show import shown

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, eq=False)
class JudgedRun:
    """One load test, judged. Runs of one label are repeats of one test and judged together.

    Powers are W; ``registration_percent`` and all its limits are percent, 100 being right. ``expected_w`` is
    what a sound meter of this form would show; ``interval`` says whether the limits are the ``budget``'s or
    the ``monte carlo``'s, where the two do not agree.
    """

    label: str
    kind: str | None
    service: str
    load: str
    indicative: bool
    repeats: int
    measured_w: float | None
    expected_w: float | None
    meter_w: float | None
    as_read_percent: float | None
    registration_percent: float | None
    standard_percent: float | None
    expanded_percent: float | None
    coverage_factor: float | None
    degrees_of_freedom: float | None
    low_percent: float | None
    high_percent: float | None
    budget_expanded_percent: float | None
    monte_carlo_low_percent: float | None
    monte_carlo_high_percent: float | None
    interval: str
    test_uncertainty_ratio: float | None
    chance_outside: float | None
    zone: str
    statement: str | None
    notes: tuple[str, ...]
    leg_watts: tuple[float, ...] = ()
    day: date | None = None
    budget: tuple[Component, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class JudgedMainOff:
    """One reading with the main off. ``zone``: inside is nothing counted, outside is counting."""

    watts: float | None
    at_most_watts: float | None
    expanded_watts: float | None
    zone: str
    kwh_a_month: float | None
    cost_a_month: float | None
    notes: tuple[str, ...]
    branches: tuple[Branch, ...] = ()
    day: date | None = None


@dataclass(frozen=True, slots=True, eq=False)
class JudgedQuiet:
    """One reading with all else off: watts of what is on round the clock."""

    watts: float | None
    at_most_watts: float | None
    expanded_watts: float | None
    kwh_a_month: float | None
    cost_a_month: float | None
    notes: tuple[str, ...]
    on: tuple[str, ...] = ()
    day: date | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Average:
    """An average registration by a method of ANSI C12.1."""

    method: str
    formula: str
    percent: float
    expanded_percent: float
    zone: str
    indicative: bool


@dataclass(frozen=True, slots=True, eq=False)
class FieldTestResult:
    """A field test, judged.

    Attributes
    ----------
    house, currency : str
    meter_number : str or None
    form : str or None
    tolerance_percent : float
    stated_risk : float
        Most that a verdict ``inside`` or ``outside`` is wrong, 0 to 1.
    runs, main_off, quiet, averages
        What was judged.
    verdict : str
        ``urgent``, ``outside``, ``counts-with-main-off``, ``inside``, ``cannot-tell`` or ``not-judged``.
    headline : str
        The answer in one sentence.
    reasons, next_steps, cautions : tuple of str
        ``cautions`` stand before everything else where they are not empty.
    instruments : tuple of (str, str)
        What was used for what, and its limit of error.
    """

    house: str
    currency: str
    meter_number: str | None
    form: str | None
    tolerance_percent: float
    stated_risk: float
    runs: tuple[JudgedRun, ...]
    main_off: tuple[JudgedMainOff, ...]
    quiet: tuple[JudgedQuiet, ...]
    averages: tuple[Average, ...]
    verdict: str
    headline: str
    reasons: tuple[str, ...]
    next_steps: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    instruments: tuple[tuple[str, str], ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return the part ``field_test`` of ``result.json``: plain JSON values only."""
        made: dict[str, Any] = {f.name: getattr(self, f.name) for f in fields(self)}
        for name in ("runs", "main_off", "quiet", "averages"):
            made[name] = [asdict(item) for item in made[name]]
        made["average_registration_percent"] = {a.method: a.percent for a in self.averages}
        made["instruments"] = dict(self.instruments)
        plain: dict[str, Any] = _plain(made)
        return plain

    def summary(self) -> pd.DataFrame:
        """Return the runs as a frame, ready to print."""
        import pandas as pd

        keep = ("label", "measured_w", "meter_w", "registration_percent", "expanded_percent", "zone")
        return pd.DataFrame([{name: getattr(run, name) for name in keep} for run in self.runs], columns=keep)

    def text(self) -> str:
        """Return the answer as plain text."""
        return shown(self, "text")

    def _repr_html_(self) -> str:
        return shown(self, "html")


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
