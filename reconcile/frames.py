"""The answer as tidy frames: real dates and numbers, units in the names, a column ``house``, ready for ``concat``."""

from __future__ import annotations

import json
import os
import warnings
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from reconcile.errors import CrashError, Fault, InputError
from reconcile.frame_rows import FRAMES, checked, framed, rows_of

if TYPE_CHECKING:
    import pandas as pd

Reconciliation: TypeAlias = Any
"""An answer, a floor above: read here, never imported."""
Place: TypeAlias = "str | os.PathLike[str]"

SCHEMA = "reconcile/1"
"""Form of an answer as a dictionary."""
AT_ONCE = 2000
"""Answers whose rows are put into a frame at once: some 100 MB at most (our choice)."""


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
        return framed(rows_of(self.to_dict(), "periods"), "periods")

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
        - ``since_low``, ``since_high``: days between which it began with 95 %, if it acts.
        - ``grew_until``: the day until which it grew to its size, by interval data.
        - ``one_of``: the bills that a cause of single bills may be about, each with its chance and its kWh.
        """
        return framed(rows_of(self.to_dict(), "causes_frame"), "causes_frame")

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
        return framed(rows_of(self.to_dict(), "steps_frame"), "steps_frame")

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
        return framed(rows_of(self.to_dict(), "findings_frame"), "findings_frame")

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
        return framed(rows_of(self.to_dict(), "loads_frame"), "loads_frame")

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
        return framed(rows_of(self.to_dict(), "money_frame"), "money_frame")

    @property
    def visible_frame(self: Reconciliation) -> pd.DataFrame:
        """What could hide: one row a bill in which something might have begun.

        - ``house``: its name.
        - ``period``, ``start``: number of the bill from 0, and its first day.
        - ``meter_percent`` [%]: smallest meter error from there on that these bills would have shown with 90 %
          probability; empty where more would be needed.
        - ``constant_watts`` [W]: smallest load round the clock, the same way.
        """
        return framed(rows_of(self.to_dict(), "visible_frame"), "visible_frame")

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
        return framed(rows_of(self.to_dict(), "measures_frame"), "measures_frame")

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
        return framed(rows_of(self.to_dict(), "tie_out_frame"), "tie_out_frame")


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
    made, names = _in_parts(((name, _rows(name, outcome)) for name, outcome in _named(answers)), "houses")
    _warn_of_twins(names)
    return made


def of_results(
    results: Mapping[str, Place] | Iterable[Place], frame: str = "houses", *, at_once: int = AT_ONCE
) -> pd.DataFrame:
    """Return a frame of answers that were kept as files, the same as of the answers themselves.

    Parameters
    ----------
    results : mapping of str to path, or iterable of path
        Each ``result.json``, or the folder that holds it; by the names that the houses shall have, else they go by
        their own.
    frame : str
        ``houses``, or a frame of an answer by its name: ``periods``, ``causes_frame``, ``findings_frame``,
        ``steps_frame``, ``loads_frame``, ``money_frame``, ``visible_frame``, ``measures_frame``, ``tie_out_frame``.
    at_once : int
        How many files are held in memory at once, beside the frame.

    Returns
    -------
    DataFrame
        With the columns and types of that frame; files follow one another in the order given.

    Raises
    ------
    InputError
        Naming every file that is no answer; in ``houses`` it is a row with its ``faults`` instead.
    ValueError
        Where there is no such frame.

    Examples
    --------
    >>> of_results(Path("answers").rglob("result.json"))  # doctest: +SKIP
    >>> months = {name: of_results(Path(name).glob("*/result.json"), "periods") for name in ("may", "june")}
    ... # doctest: +SKIP
    """
    if frame not in FRAMES:
        raise ValueError(f"there is no frame {frame!r}; there are {', '.join(FRAMES)}")
    made, names = _in_parts(_kept(results, frame), frame, at_once)
    if frame == "houses":
        _warn_of_twins(names)
    return made


def _warn_of_twins(names: Counter[str]) -> None:
    twice = [name for name, count in names.items() if count > 1]
    if twice:
        warnings.warn(f"several houses have the name {twice[0]!r}: give a mapping by names", stacklevel=3)


Rows: TypeAlias = list[dict[str, Any]]
Refused: TypeAlias = InputError | CrashError


def _in_parts(
    named: Iterable[tuple[str, Rows | Refused]], frame: str, at_once: int = AT_ONCE
) -> tuple[pd.DataFrame, Counter[str]]:
    """Make one frame of many houses' rows, some houses at a time, and count the houses by their names."""
    import pandas as pd

    faults: list[Fault] = []
    parts: list[pd.DataFrame] = []
    names: Counter[str] = Counter()
    left = iter(named)
    while some := list(islice(left, at_once)):
        rows: Rows = []
        for name, one in some:
            names[name] += 1
            if not isinstance(one, InputError | CrashError):
                rows += one
            elif frame == "houses":
                rows.append({"house": name, "faults": [str(fault) for fault in one.faults]})
            else:
                faults += one.faults
        parts.append(framed(rows, frame))
    if faults:
        raise InputError(faults)
    return (pd.concat(parts, ignore_index=True) if parts else framed([], frame)), names


def _rows(name: str, outcome: Any) -> Rows | Refused:
    if isinstance(outcome, InputError | CrashError):
        return outcome
    if not hasattr(outcome, "verdict"):
        raise TypeError(f"houses() takes answers and InputErrors; {name!r} is {type(outcome).__name__}")
    return rows_of(outcome.to_dict(), "houses", name)


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


def _kept(results: Any, frame: str) -> Iterator[tuple[str, Rows | Refused]]:
    """Rows of files by the names of their houses; of a file that holds no answer, what is wrong."""
    if isinstance(results, str | bytes | os.PathLike):
        raise TypeError(f"of_results() takes a list of paths, as Path({os.fsdecode(results)!r}).rglob('result.json')")
    named = results.items() if isinstance(results, Mapping) else ((None, place) for place in results)
    for name, place in named:
        path = Path(os.fsdecode(place))
        own = None if name is None else str(name)
        try:
            answer = json.loads((path / "result.json" if path.is_dir() else path).read_bytes())
            if answer["schema"] != SCHEMA:
                raise ValueError
            yield own or str(answer["house"]), checked(rows_of(answer, frame, own), frame)
        except OSError:
            fault = Fault(str(path), "it cannot be read", "Check how it is spelled and where it lies.", house=own)
            yield own or str(path), InputError([fault])
        except (ValueError, LookupError, TypeError, AttributeError, RecursionError):
            fault = Fault(str(path), "this is no answer", f"Give a result.json of the form {SCHEMA}.", house=own)
            yield own or str(path), InputError([fault])
