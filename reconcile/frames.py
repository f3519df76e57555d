"""The answer as tidy frames: real dates and numbers, units in the names, a column ``house``, ready for ``concat``."""

from __future__ import annotations

from collections.abc import Sequence
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


def _frame(house: str, rows: Sequence[dict[str, Any]], columns: dict[str, str]) -> pd.DataFrame:
    import pandas as pd

    made: dict[str, Any] = {"house": pd.Series([house] * len(rows), dtype=TEXT)}
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
