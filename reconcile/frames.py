"""The answer as tidy frames: real dates and numbers, units in the names, a column ``house``, ready for ``concat``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    import pandas as pd

Reconciliation: TypeAlias = Any
"""An answer, a floor above: read here, never imported."""

DAYS = "datetime64[ns]"
TEXT, NUMBER = "string", "float64"

PERIODS = {
    "start": DAYS, "end": DAYS, "days": "int64", "billed_kwh": NUMBER, "flag": TEXT, "why_not_judged": TEXT,
    "expected_kwh": NUMBER, "low_kwh": NUMBER, "high_kwh": NUMBER, "usual_kwh": NUMBER, "usual_low_kwh": NUMBER,
    "usual_high_kwh": NUMBER, "excess_kwh": NUMBER, "excess_amount": NUMBER, "currency": TEXT, "read_type": TEXT,
    "part_of": "Int64",
}  # fmt: skip
CAUSES = {
    "code": TEXT, "probability": NUMBER, "since": DAYS, "until": DAYS, "size": NUMBER, "unit": TEXT,
    "size_low": NUMBER, "size_high": NUMBER, "kwh": NUMBER, "text": TEXT,
}  # fmt: skip
STEPS = {
    "order": "int64", "code": TEXT, "hazard": TEXT, "minutes": "int64", "for_cause": TEXT, "optional": "bool",
    "asks": TEXT, "text": TEXT,
}  # fmt: skip
LOADS = {
    "load": TEXT, "expected_kwh": NUMBER, "reconciled_kwh": NUMBER, "low_kwh": NUMBER, "high_kwh": NUMBER,
    "share_of_doubt": NUMBER, "effort": TEXT,
}  # fmt: skip
FINDINGS = {
    "code": TEXT, "bills": TEXT, "kwh": NUMBER, "amount": NUMBER, "currency": TEXT, "settles": "bool", "text": TEXT,
    "do": TEXT,
}  # fmt: skip
HOUSES = {
    "decision": TEXT, "rule": TEXT, "cannot_tell": "bool", "blind": "bool", "bills": "int64", "bills_judged": "int64",
    "needs_cause_probability": NUMBER, "cause": TEXT, "cause_probability": NUMBER, "cause_turn": DAYS,
    "cause_size": NUMBER, "cause_unit": TEXT, "cause_kwh": NUMBER, "meter_fast_probability": NUMBER,
    "meter_slow_probability": NUMBER, "smallest_visible_meter_error_percent": NUMBER,
    "smallest_visible_constant_watts": NUMBER, "over_bills": "int64", "over_kwh": NUMBER, "over_amount": NUMBER,
    "under_bills": "int64", "under_kwh": NUMBER, "under_amount": NUMBER, "currency": TEXT, "findings": "int64",
    "headline": TEXT,
}  # fmt: skip
"""Columns of each frame and their types, the same for every house, so that frames of many houses join."""


def periods_frame(result: Reconciliation) -> pd.DataFrame:
    """Return one row a billing period; ``excess_amount`` is in ``currency``."""
    rows = [{**asdict(row), "currency": result.house.currency} for row in result.rows]
    return _frame(result.house.name, rows, PERIODS)


def causes_frame(result: Reconciliation) -> pd.DataFrame:
    """Return one row a cause; ``size`` is in ``unit``."""
    return _frame(result.house.name, [asdict(cause) for cause in result.causes], CAUSES)


def steps_frame(result: Reconciliation) -> pd.DataFrame:
    """Return one row a step, in order; ``hazard`` by its name."""
    rows = [
        {**asdict(step), "order": n, "hazard": str(getattr(step.hazard, "name", step.hazard)).lower()}
        for n, step in enumerate(result.verdict.next_steps, start=1)
    ]
    return _frame(result.house.name, rows, STEPS)


def loads_frame(result: Reconciliation) -> pd.DataFrame:
    """Return one row a load over all periods."""
    return _frame(result.house.name, [asdict(load) for load in result.loads], LOADS)


def findings_frame(result: Reconciliation) -> pd.DataFrame:
    """Return one row a finding; ``text`` says it, ``do`` what to do at home; ``amount`` is in ``currency``."""
    rows = [{**finding, "currency": result.house.currency} for finding in result.to_dict()["findings"]]
    return _frame(result.house.name, [{**row, "bills": ", ".join(map(str, row["periods"]))} for row in rows], FINDINGS)


def houses(answers: Iterable[Reconciliation]) -> pd.DataFrame:
    """Return one row a house: what was decided, how sure it is, and what to sort by.

    Parameters
    ----------
    answers : iterable of Reconciliation

    Returns
    -------
    DataFrame
        ``needs_cause_probability`` is the chance that days, weather and habits do not account for the bills: sort by it
        to see first the houses that want somebody's time. ``cause``, with its chance, day and size, is the likeliest
        one all the same; ``over`` and ``under`` add up the bills marked high and low (low ones are below 0), and
        ``findings`` counts what the billing records show.

    Examples
    --------
    >>> table = houses(reconcile(read_house(place)) for place in places)  # doctest: +SKIP
    >>> table.sort_values("needs_cause_probability", ascending=False).head(20)  # doctest: +SKIP
    """
    rows, names = [], []
    for result in answers:
        verdict = result.verdict
        causes = [cause for cause in result.causes if cause.code != "none"]
        first = max(causes, key=lambda cause: cause.probability, default=None)
        none = next((cause.probability for cause in result.causes if cause.code == "none"), None)
        names.append(result.house.name)
        rows.append(
            {
                "decision": verdict.decision, "rule": verdict.rule, "cannot_tell": verdict.cannot_tell,
                "blind": verdict.blind, "bills": len(result.rows),
                "bills_judged": sum(str(row.flag) != "not-judged" for row in result.rows),
                "needs_cause_probability": None if none is None else 1.0 - none,
                "cause": None if first is None else first.code,
                "cause_probability": None if first is None else first.probability,
                "cause_turn": None if first is None else first.turn,
                "cause_size": None if first is None else first.size,
                "cause_unit": None if first is None else first.unit,
                "cause_kwh": None if first is None else first.kwh,
                "meter_fast_probability": verdict.meter_fast_probability,
                "meter_slow_probability": verdict.meter_slow_probability,
                "smallest_visible_meter_error_percent": verdict.smallest_visible_meter_error_percent,
                "smallest_visible_constant_watts": verdict.smallest_visible_constant_watts,
                **{
                    f"{side}_{name}": getattr(getattr(verdict, side), name)
                    for side in ("over", "under")
                    for name in ("bills", "kwh", "amount")
                },
                "currency": result.house.currency, "findings": len(result.findings), "headline": verdict.headline,
            }
        )  # fmt: skip
    return _frame(names, rows, HOUSES)


def _frame(house: str | Sequence[str], rows: Sequence[dict[str, Any]], columns: dict[str, str]) -> pd.DataFrame:
    import pandas as pd

    made: dict[str, Any] = {"house": pd.Series([house] * len(rows) if isinstance(house, str) else house, dtype=TEXT)}
    for name, kind in columns.items():
        values = [row[name] for row in rows]
        if kind == DAYS:
            made[name] = pd.to_datetime(pd.Series(values, dtype=object)).astype("datetime64[ns]")
        elif kind == NUMBER:
            made[name] = pd.Series([None if value is None else float(value) for value in values], dtype=NUMBER)
        elif kind == TEXT:
            made[name] = pd.Series([None if value is None else str(value) for value in values], dtype=TEXT)
        else:
            made[name] = pd.Series(values, dtype=kind)
    return pd.DataFrame(made)
