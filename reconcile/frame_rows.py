"""Rows and columns of every frame, made from an answer's dictionary: of one just weighed, or of one kept as a file."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, TypeAlias

from reconcile.kinds import Hazard
from reconcile.result_parts import Measure

if TYPE_CHECKING:
    import pandas as pd

Answer: TypeAlias = Mapping[str, Any]
"""An answer as :meth:`reconcile.Reconciliation.to_dict` gives it."""
Rows: TypeAlias = Iterator[Mapping[str, Any]]

DAYS = "datetime64[ns]"
TEXT, NUMBER, COUNT, FLAG, LIST = "string", "float64", "Int64", "boolean", "object"

PERIODS = {
    "period": "int64", "start": DAYS, "end": DAYS, "days": "int64", "billed_kwh": NUMBER, "flag": TEXT,
    "why_not_judged": TEXT, "expected_kwh": NUMBER, "low_kwh": NUMBER, "high_kwh": NUMBER, "usual_kwh": NUMBER,
    "usual_low_kwh": NUMBER, "usual_high_kwh": NUMBER, "excess_kwh": NUMBER, "excess_amount": NUMBER,
    "billed_amount": NUMBER, "recomputed_amount": NUMBER, "currency": TEXT, "read_type": TEXT, "part_of": COUNT,
}  # fmt: skip
CAUSES = {
    "code": TEXT, "probability": NUMBER, "since": DAYS, "until": DAYS, "size": NUMBER, "unit": TEXT,
    "size_low": NUMBER, "size_high": NUMBER, "kwh": NUMBER, "text": TEXT, "since_low": DAYS, "since_high": DAYS,
    "grew_until": DAYS, "one_of": LIST,
}  # fmt: skip
STEPS = {
    "order": "int64", "code": TEXT, "hazard": TEXT, "minutes": "int64", "for_cause": TEXT, "optional": "bool",
    "worth": NUMBER, "asks": TEXT, "text": TEXT,
}  # fmt: skip
LOADS = {
    "load": TEXT, "expected_kwh": NUMBER, "reconciled_kwh": NUMBER, "low_kwh": NUMBER, "high_kwh": NUMBER,
    "share_of_doubt": NUMBER, "effort": TEXT,
}  # fmt: skip
FINDINGS = {
    "code": TEXT, "case": TEXT, "periods": LIST, "kwh": NUMBER, "amount": NUMBER, "currency": TEXT, "settles": "bool",
    "asks": LIST, "text": TEXT, "do": TEXT,
}  # fmt: skip
MONEY = {
    "part": TEXT, "code": TEXT, "probability": NUMBER, "periods": LIST, "kwh": NUMBER, "kwh_low": NUMBER,
    "kwh_high": NUMBER, "amount": NUMBER, "amount_low": NUMBER, "amount_high": NUMBER, "currency": TEXT,
}  # fmt: skip
VISIBLE = {"period": "int64", "start": DAYS, "meter_percent": NUMBER, "constant_watts": NUMBER}
MEASURES = {
    "order": "int64", "load": TEXT, "how": TEXT, "doubt_percent_before": NUMBER, "doubt_percent_after": NUMBER,
    "helps": "bool",
}  # fmt: skip
TIE_OUT = {
    "period": "int64", "start": DAYS, "end": DAYS, "billed_kwh": NUMBER, "interval_kwh": NUMBER,
    "difference_percent": NUMBER, "within": FLAG, "missing_intervals": "int64", "tied_with": LIST, "why": TEXT,
}  # fmt: skip
HOUSES = {
    "decision": TEXT, "rule": TEXT, "cannot_tell": FLAG, "blind": FLAG, "bills": COUNT, "bills_judged": COUNT,
    "needs_cause_probability": NUMBER,
    **{f"{which}cause{name}": kind for which in ("", "second_") for name, kind in (
        ("", TEXT), ("_probability", NUMBER), ("_turn", DAYS), ("_size", NUMBER), ("_unit", TEXT), ("_kwh", NUMBER),
    )},
    "meter_fast_probability": NUMBER, "meter_slow_probability": NUMBER, "meters_disagree_probability": NUMBER,
    "smallest_visible_meter_error_percent": NUMBER, "smallest_visible_constant_watts": NUMBER, "over_bills": COUNT,
    "over_kwh": NUMBER, "over_amount": NUMBER, "under_bills": COUNT, "under_kwh": NUMBER, "under_amount": NUMBER,
    "price_amount": NUMBER, "currency": TEXT, "findings": COUNT, "finding_codes": LIST, "steps": LIST,
    "headline": TEXT, "faults": LIST,
}  # fmt: skip
"""Columns of each frame and their types, the same for every house, so that frames of many houses join."""

_MADE: dict[str, Any] = {NUMBER: float, TEXT: str, LIST: list}


def _numbered(rows: Sequence[Mapping[str, Any]], name: str, first: int = 0) -> Rows:
    for n, row in enumerate(rows, start=first):
        yield {**row, name: n}


def _periods(answer: Answer) -> Rows:
    return _numbered(answer["periods"], "period")


def _steps(answer: Answer) -> Rows:
    for row in _numbered(answer["verdict"]["steps"], "order", 1):
        yield {**row, "hazard": Hazard(row["hazard"]).name.lower()}


def _money(answer: Answer) -> Rows:
    money = answer["money"]
    for part in ("disputed", "short"):
        for code, stake in money.get(part, {}).items():
            yield {**stake, "part": part, "code": code}
    bridge = money["bridge"]
    for code, amount in ({} if bridge is None else bridge["parts"]).items():
        yield {"part": "bridge", "code": code, "periods": bridge["to_periods"], "amount": amount}
    for part, refunds in (("refund", money["refunds"]), ("supposed", money.get("supposed", []))):
        for one in refunds:
            yield {"part": part, "code": one["rule"], "periods": [], "kwh": one["kwh"], "amount": one["amount"]}


def _visible(answer: Answer) -> Rows:
    seen = answer["visible"]
    if seen is None:
        return
    for n, percent, watts in zip(seen["onset"], seen["meter_percent"], seen["constant_watts"], strict=True):
        start = answer["periods"][n]["start"]
        yield {"period": n, "start": start, "meter_percent": percent, "constant_watts": watts}


def _measures(answer: Answer) -> Rows:
    for row in _numbered(answer["measures"], "order", 1):
        one = Measure(row["load"], row["how"], row["doubt_percent_after"], row["doubt_percent_before"])
        yield {**row, "helps": one.helps}


def _ties(answer: Answer) -> Rows:
    periods = answer["periods"]
    for tie in [] if answer["interval"] is None else answer["interval"]["tie_out"]:
        yield {**tie, **{key: periods[tie["period"]][key] for key in ("start", "end")}}


def _house(answer: Answer) -> Rows:
    """The one row of a house in the table of many."""
    verdict, bridge = answer["verdict"], answer["money"]["bridge"]
    causes = sorted((one for one in answer["causes"] if one["code"] != "none"), key=lambda one: -one["probability"])
    none = next((one["probability"] for one in answer["causes"] if one["code"] == "none"), None)
    row = {key: verdict.get(key) for key in HOUSES}
    for which, cause in zip(("", "second_"), causes, strict=False):
        row[f"{which}cause"] = cause["code"]
        row |= {f"{which}cause_{key}": cause[key] for key in ("probability", "size", "unit", "kwh")}
        row[f"{which}cause_turn"] = cause["since"] if cause["since"] is not None else cause["until"]
    for side in ("over", "under"):
        row |= {f"{side}_{key}": verdict[side][key] for key in ("bills", "kwh", "amount")}
    yield row | {
        "bills": len(answer["periods"]),
        "bills_judged": sum(one["flag"] != "not-judged" for one in answer["periods"]),
        "needs_cause_probability": None if none is None else 1.0 - none,
        "price_amount": None if bridge is None else bridge["parts"]["price"],
        "currency": answer["currency"],
        "findings": len(answer["findings"]),
        "finding_codes": list(dict.fromkeys(finding["code"] for finding in answer["findings"])),
        "steps": [step["code"] for step in verdict["steps"]],
        "faults": [],
    }


FRAMES: dict[str, tuple[dict[str, str], Callable[[Answer], Rows]]] = {
    "periods": (PERIODS, _periods),
    "causes_frame": (CAUSES, lambda answer: iter(answer["causes"])),
    "findings_frame": (FINDINGS, lambda answer: iter(answer["findings"])),
    "steps_frame": (STEPS, _steps),
    "loads_frame": (LOADS, lambda answer: iter(answer["loads"])),
    "money_frame": (MONEY, _money),
    "visible_frame": (VISIBLE, _visible),
    "measures_frame": (MEASURES, _measures),
    "tie_out_frame": (TIE_OUT, _ties),
    "houses": (HOUSES, _house),
}
"""Each frame's columns, and how its rows come out of an answer."""


def rows_of(answer: Answer, frame: str, name: str | None = None) -> list[dict[str, Any]]:
    """Return the rows of one frame of one answer.

    Parameters
    ----------
    answer : mapping
        As :meth:`reconcile.Reconciliation.to_dict` gives it.
    frame : str
        One of :data:`FRAMES`.
    name : str, optional
        Of the house; the answer's own where it is None.
    """
    same = {"house": answer["house"] if name is None else name, "currency": answer["currency"]}
    return [{**row, **same} for row in FRAMES[frame][1](answer)]


_HELD: dict[str, tuple[type, ...]] = {
    DAYS: (str, type(None)), NUMBER: (int, float, type(None)), TEXT: (str, type(None)), COUNT: (int, type(None)),
    FLAG: (bool, type(None)), LIST: (list, type(None)), "int64": (int,), "bool": (bool,),
}  # fmt: skip


def checked(rows: list[dict[str, Any]], frame: str) -> list[dict[str, Any]]:
    """Return rows that come from a file, where each holds what its column may hold.

    Parameters
    ----------
    frame : str
        One of :data:`FRAMES`.

    Returns
    -------
    list of dict
        The same.

    Raises
    ------
    TypeError, ValueError
        Where one does not.
    """
    columns = {"house": TEXT, **FRAMES[frame][0]}
    for row in rows:
        for name, kind in columns.items():
            value = row.get(name)
            if not isinstance(value, _HELD[kind]):
                raise TypeError(f"{name}: {value!r}")
            if kind == DAYS and isinstance(value, str):
                date.fromisoformat(value)
    return rows


def framed(rows: Sequence[Mapping[str, Any]], frame: str) -> pd.DataFrame:
    """Return rows as a frame of the columns and types that it always has.

    Parameters
    ----------
    rows : sequence of mapping
        What one does not hold is empty.
    frame : str
        One of :data:`FRAMES`.
    """
    import pandas as pd

    made: dict[str, Any] = {}
    for name, kind in {"house": TEXT, **FRAMES[frame][0]}.items():
        values = [row.get(name) for row in rows]
        if kind == DAYS:
            made[name] = pd.to_datetime(pd.Series(values, dtype=object), format="%Y-%m-%d").astype("datetime64[ns]")
            continue
        if kind in _MADE:
            values = [None if value is None else _MADE[kind](value) for value in values]
        made[name] = pd.Series(values, dtype=kind)
    return pd.DataFrame(made)
