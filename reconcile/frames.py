"""The answer as tidy frames: real dates and numbers, units in the names, a column ``house``, ready for ``concat``."""

from __future__ import annotations

import warnings
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, TypeAlias

from reconcile.errors import CrashError, InputError

if TYPE_CHECKING:
    import pandas as pd

Reconciliation: TypeAlias = Any
"""An answer, a floor above: read here, never imported."""

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
    "size_low": NUMBER, "size_high": NUMBER, "kwh": NUMBER, "text": TEXT,
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


class Frames:
    """The frames of an answer; each has the house's name in its first column, and the same columns for every house."""

    __slots__ = ()

    @property
    def periods(self: Reconciliation) -> pd.DataFrame:
        """One row a billing period.

        - ``house``: its name.
        - ``period``: number of the bill from 0, as findings and causes count them.
        - ``start``, ``end``: dates of the opening and the closing reading.
        - ``days`` [d]: between them.
        - ``billed_kwh`` [kWh]: as billed.
        - ``flag``: ``within``, ``over``, ``under`` or ``not-judged``, by the usual range as it stands here.
        - ``why_not_judged``: in words.
        - ``expected_kwh``, ``low_kwh``, ``high_kwh`` [kWh]: from the load list alone, with the limits of one bill.
        - ``usual_kwh``, ``usual_low_kwh``, ``usual_high_kwh`` [kWh]: from the list and all the other bills, with the
          limits of all the bills together.
        - ``excess_kwh`` [kWh], ``excess_amount`` [currency]: billed less usual, and the same in money.
        - ``billed_amount``, ``recomputed_amount`` [currency]: as billed, and by the tariff.
        - ``currency``: three letters.
        - ``read_type``: of the closing reading, ``actual``, ``estimated`` or ``customer``.
        - ``part_of``: row in ``causes_frame``, from 0, of the lasting change that the bill belongs to.
        """
        billed = [None if bill.amount is None else float(bill.amount) for bill in self.house.bills]
        ours = {} if self.money is None else {one.period: one.ours for one in self.money.recomputed}
        rows = [
            {**asdict(row), "period": n, "billed_amount": billed[n], "recomputed_amount": ours.get(n)}
            for n, row in enumerate(self.rows)
        ]
        return _frame(self, rows, PERIODS)

    @property
    def causes_frame(self: Reconciliation) -> pd.DataFrame:
        """One row a cause, the likeliest first; several may act.

        - ``house``: its name.
        - ``code``: of the cause, or ``none``: nothing need act.
        - ``probability`` [0 to 1]: that it acts.
        - ``since``, ``until``: its first day, and the day on which it ended.
        - ``size`` [unit]: if it acts.
        - ``unit``: ``%``, ``W`` or ``kWh``.
        - ``size_low``, ``size_high`` [unit]: 95 % limits of the size.
        - ``kwh`` [kWh]: what it would account for over the bills shown, if it acts.
        - ``text``: the same in a sentence.
        """
        return _frame(self, [asdict(cause) for cause in self.causes], CAUSES)

    @property
    def steps_frame(self: Reconciliation) -> pd.DataFrame:
        """One row a step, in order of hazard.

        - ``house``: its name.
        - ``order``: from 1.
        - ``code``: of the check or the request.
        - ``hazard``: how near it comes to live parts, by its name.
        - ``minutes`` [min]: what it takes.
        - ``for_cause``: code of the cause that it would tell of, if one.
        - ``optional``: it would not change what to do.
        - ``worth`` [costs]: what it is expected to save, in the unit of :class:`reconcile.Costs`.
        - ``asks``: code of the request to the utility that it makes.
        - ``text``: the same in words.
        """
        rows = [
            {**asdict(step), "order": n, "hazard": str(getattr(step.hazard, "name", step.hazard)).lower()}
            for n, step in enumerate(self.verdict.next_steps, start=1)
        ]
        return _frame(self, rows, STEPS)

    @property
    def findings_frame(self: Reconciliation) -> pd.DataFrame:
        """One row a finding: what the billing records show.

        - ``house``: its name.
        - ``code``, ``case``: what was found, and which of its sentences says so.
        - ``periods``: a list of the bills it is about, from 0.
        - ``kwh`` [kWh], ``amount`` [currency]: what is in question.
        - ``currency``: three letters.
        - ``settles``: it can account for a high bill by itself.
        - ``asks``: a list of codes of requests to the utility.
        - ``text``, ``do``: the finding in words, and what to do at home.
        """
        return _frame(self, self.to_dict()["findings"], FINDINGS)

    @property
    def loads_frame(self: Reconciliation) -> pd.DataFrame:
        """One row a load, over all periods, and last what is not on the list.

        - ``house``: its name.
        - ``load``: as the list has it.
        - ``expected_kwh`` [kWh]: by the list.
        - ``reconciled_kwh``, ``low_kwh``, ``high_kwh`` [kWh]: as the bills make it likely, with its 95 % limits.
        - ``share_of_doubt`` [0 to 1]: how much of the doubt about the meter is this load's.
        - ``effort``: how it would be measured.
        """
        return _frame(self, [asdict(load) for load in self.loads], LOADS)

    @property
    def money_frame(self: Reconciliation) -> pd.DataFrame:
        """One row an amount of money, by the part of the answer it belongs to.

        - ``house``: its name.
        - ``part``: ``disputed`` (what hangs on a finding or a cause, the most first), ``short`` (the same where too
          little was billed), ``bridge`` (why a later bill or year costs more), ``refund`` (by a published rule, a test
          having found the meter wrong), ``supposed`` (the same, were a test to find what the bills suggest).
        - ``code``: of the finding, the cause, the part of the bridge or the rule.
        - ``probability`` [0 to 1]: of a cause.
        - ``periods``: a list of the bills, from 0.
        - ``kwh``, ``kwh_low``, ``kwh_high`` [kWh]: energy, with its 95 % limits.
        - ``amount``, ``amount_low``, ``amount_high`` [currency]: the same in money.
        - ``currency``: three letters.
        """
        return _frame(self, [] if self.money is None else list(_amounts(self.money)), MONEY)

    @property
    def visible_frame(self: Reconciliation) -> pd.DataFrame:
        """What could hide: one row a bill in which something might have begun.

        - ``house``: its name.
        - ``period``, ``start``: number of the bill from 0, and its first day.
        - ``meter_percent`` [%]: smallest meter error from there on that these bills would have shown with 90 %
          probability; empty where more would be needed.
        - ``constant_watts`` [W]: smallest load round the clock, the same way.
        """
        seen = self.visible
        rows = [] if seen is None else zip(seen.onset, seen.meter_percent, seen.constant_watts, strict=True)
        made = [
            {"period": n, "start": self.rows[n].start, "meter_percent": percent, "constant_watts": watts}
            for n, percent, watts in rows
        ]
        return _frame(self, made, VISIBLE)

    @property
    def measures_frame(self: Reconciliation) -> pd.DataFrame:
        """What to measure next: one row a load, in order of gain for effort.

        - ``house``: its name.
        - ``order``: from 1.
        - ``load``, ``how``: what is measured, and how.
        - ``doubt_percent_before``, ``doubt_percent_after`` [%]: the smallest visible meter error once all above it are
          measured, and once it is too.
        - ``helps``: it is worth the while.
        """
        rows = [{**asdict(one), "order": n, "helps": one.helps} for n, one in enumerate(self.measures, start=1)]
        return _frame(self, rows, MEASURES)

    @property
    def tie_out_frame(self: Reconciliation) -> pd.DataFrame:
        """Interval data added up to each bill, one row a bill.

        - ``house``: its name.
        - ``period``, ``start``, ``end``: number of the bill from 0, and its dates.
        - ``billed_kwh``, ``interval_kwh`` [kWh]: as billed, and the sum of the intervals.
        - ``difference_percent`` [%]: billed less interval, of the interval sum.
        - ``within``: they agree; empty where the data do not cover the bill.
        - ``missing_intervals``: how many intervals it lacks.
        - ``tied_with``: a list of periods that add up as one.
        - ``why``: why they do not agree or were not compared, in a code.
        """
        ties = [] if self.interval is None else self.interval.tie_out
        bills = self.house.bills
        rows = [{**asdict(t), "start": bills[t.period].start, "end": bills[t.period].end} for t in ties]
        return _frame(self, rows, TIE_OUT)


def _amounts(money: Any) -> Iterator[dict[str, Any]]:
    blank: dict[str, Any] = dict.fromkeys(MONEY)
    for stake in money.stakes:
        kwh, amount = stake.kwh_limits or (None, None), stake.amount_limits or (None, None)
        yield {
            **blank, "part": "short" if stake.billed_short else "disputed", "code": stake.code,
            "probability": stake.probability, "periods": stake.periods, "kwh": stake.kwh, "amount": stake.amount,
            "kwh_low": kwh[0], "kwh_high": kwh[1], "amount_low": amount[0], "amount_high": amount[1],
        }  # fmt: skip
    if money.bridge is not None:
        for code, amount in money.bridge.parts.items():
            yield {**blank, "part": "bridge", "code": code, "periods": money.bridge.to_periods, "amount": amount}
    for part, refunds in (("refund", money.refunds), ("supposed", money.supposed)):
        for one in refunds:
            yield {**blank, "part": part, "code": one.rule.code, "periods": (), "kwh": one.kwh, "amount": one.amount}


Outcome: TypeAlias = "Reconciliation | InputError | CrashError"
Answers: TypeAlias = "Mapping[str, Outcome] | Iterable[tuple[str, Outcome]] | Iterable[Reconciliation]"


def houses(answers: Answers) -> pd.DataFrame:
    """Return one row a house: what was decided, how sure it is, and what to sort by.

    Parameters
    ----------
    answers : mapping of str to Reconciliation or InputError, or iterable
        By the names of the houses, as :func:`reconcile.reconcile_many` gives them: a mapping, or pairs. Answers alone
        go by the names of their houses.

    Returns
    -------
    DataFrame
        Sort by ``needs_cause_probability`` to see first the houses that want somebody's time.

        - ``house``: its name.
        - ``decision``, ``rule``: what was decided, and which rule decided it.
        - ``cannot_tell``: something stands out, and no cause reaches one half.
        - ``blind``: nothing stands out, but these bills would look alike with a rise by half.
        - ``bills``, ``bills_judged``: how many.
        - ``needs_cause_probability`` [0 to 1]: that days, weather and habits do not account for the bills.
        - ``cause``: code of the likeliest cause, whether or not one is needed.
        - ``cause_probability`` [0 to 1]: that it acts.
        - ``cause_turn``: the day on which the bills changed by it.
        - ``cause_size`` [unit]: if it acts.
        - ``cause_unit``: of its size: ``%``, ``W`` or ``kWh``.
        - ``cause_kwh`` [kWh]: what it would account for over the bills shown.
        - ``second_cause``: the same of the second likeliest.
        - ``second_cause_probability`` [0 to 1]: that it acts; both may.
        - ``second_cause_turn``: its day.
        - ``second_cause_size`` [unit]: if it acts.
        - ``second_cause_unit``: of its size.
        - ``second_cause_kwh`` [kWh]: what it would account for.
        - ``meter_fast_probability``, ``meter_slow_probability`` [0 to 1]: of the meter now on the wall.
        - ``meters_disagree_probability`` [0 to 1]: that the old and the new meter of an exchange do.
        - ``smallest_visible_meter_error_percent`` [%]: what the bills would have shown with 90 % probability.
        - ``smallest_visible_constant_watts`` [W]: the same of a load round the clock.
        - ``over_bills``: how many are marked high.
        - ``over_kwh`` [kWh], ``over_amount`` [currency]: they above usual, added up.
        - ``under_bills``: how many are marked low.
        - ``under_kwh`` [kWh], ``under_amount`` [currency]: they below usual, added up: below 0.
        - ``price_amount`` [currency]: what other prices alone make of the latest bill or year.
        - ``currency``: three letters.
        - ``findings``: how many things the billing records show.
        - ``finding_codes``, ``steps``: lists of their codes, and of the steps'.
        - ``headline``: the answer in a sentence or two.
        - ``faults``: a list of what is to be put right in a house that was refused; its other columns are empty.

    Raises
    ------
    TypeError
        Where something is neither an answer nor an InputError.

    Examples
    --------
    >>> table = houses(reconcile_many(Path("houses").iterdir()))  # doctest: +SKIP
    >>> table.sort_values("needs_cause_probability", ascending=False).head(20)  # doctest: +SKIP
    """
    names, rows = [], []
    for name, outcome in _named(answers):
        names.append(name)
        rows.append({**dict.fromkeys(HOUSES), **_row_of(name, outcome)})
    twice = [name for name, count in Counter(names).items() if count > 1]
    if twice:
        warnings.warn(
            f"several houses have the name {twice[0]!r}: give from_frames a name=, or houses() a mapping by names",
            stacklevel=2,
        )
    return _frame(names, rows, HOUSES)


def _named(answers: Any) -> Iterator[tuple[str, Any]]:
    if hasattr(answers, "verdict"):
        answers = [answers]
    for n, one in enumerate(answers.items() if isinstance(answers, Mapping) else answers):
        if isinstance(one, tuple) and len(one) == 2:
            yield str(one[0]), one[1]
        elif hasattr(one, "house"):
            yield one.house.name, one
        else:
            yield next((fault.house for fault in getattr(one, "faults", ()) if fault.house), f"number {n}"), one


def _row_of(name: str, outcome: Any) -> dict[str, Any]:
    if isinstance(outcome, InputError | CrashError):
        return {"faults": [str(fault) for fault in outcome.faults]}
    if not hasattr(outcome, "verdict"):
        raise TypeError(f"houses() takes answers and InputErrors; {name!r} is {type(outcome).__name__}")
    verdict, bridge = outcome.verdict, None if outcome.money is None else outcome.money.bridge
    causes = sorted((cause for cause in outcome.causes if cause.code != "none"), key=lambda cause: -cause.probability)
    none = next((cause.probability for cause in outcome.causes if cause.code == "none"), None)
    row = {key: getattr(verdict, key) for key in HOUSES if hasattr(verdict, key)}
    for which, cause in zip(("", "second_"), causes, strict=False):
        row[f"{which}cause"] = cause.code
        row |= {f"{which}cause_{key}": getattr(cause, key) for key in ("probability", "turn", "size", "unit", "kwh")}
    for side in ("over", "under"):
        row |= {f"{side}_{key}": getattr(getattr(verdict, side), key) for key in ("bills", "kwh", "amount")}
    return row | {
        "bills": len(outcome.rows),
        "bills_judged": sum(str(one.flag) != "not-judged" for one in outcome.rows),
        "needs_cause_probability": None if none is None else 1.0 - none,
        "price_amount": None if bridge is None else bridge.parts["price"],
        "currency": outcome.house.currency,
        "findings": len(outcome.findings),
        "finding_codes": list(dict.fromkeys(finding.code for finding in outcome.findings)),
        "steps": [step.code for step in verdict.next_steps],
        "faults": [],
    }


def _frame(
    house: Reconciliation | Sequence[str], rows: Sequence[Mapping[str, Any]], kinds: dict[str, str]
) -> pd.DataFrame:
    import pandas as pd

    if isinstance(house, Sequence):
        names = list(house)
    else:
        names = [house.house.name] * len(rows)
        rows = [{**row, "currency": house.house.currency} for row in rows]
    made: dict[str, Any] = {"house": pd.Series(names, dtype=TEXT)}
    for name, kind in kinds.items():
        values = [row[name] for row in rows]
        if kind == DAYS:
            made[name] = pd.to_datetime(pd.Series(values, dtype=object)).astype("datetime64[ns]")
            continue
        if kind in _MADE:
            values = [None if value is None else _MADE[kind](value) for value in values]
        made[name] = pd.Series(values, dtype=kind)
    return pd.DataFrame(made)
