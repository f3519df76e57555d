"""Many houses: each weighed by itself, so that one that is refused loses none of the others."""

from __future__ import annotations

import os
import traceback
import warnings
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, TypeAlias, TypeVar

from reconcile.answer import reconcile
from reconcile.costs import Costs, checked_costs
from reconcile.errors import CrashError, Fault, InputError
from reconcile.house import House
from reconcile.kinds import CauseCode
from reconcile.prior_odds import checked_odds
from reconcile.read import read_house
from reconcile.result import Reconciliation

Place: TypeAlias = "str | os.PathLike[str]"
Given: TypeAlias = "House | Place | Callable[[], House] | InputError"
Outcome: TypeAlias = Reconciliation | InputError | CrashError
Name = TypeVar("Name")

AHEAD = 64
"""Houses that are with an executor at once: enough for two processors or twenty, few enough to keep in memory and to
wait for after an interrupt (our choice)."""


def reconcile_many(
    houses: Mapping[Name, Given] | Iterable[Place] | Iterable[House] | Iterable[tuple[Name, Given]],
    *,
    executor: Executor | None = None,
    ahead: int = AHEAD,
    odds: Mapping[CauseCode, float] | None = None,
    costs: Costs | Mapping[str, float] | None = None,
) -> Iterator[tuple[Name, Outcome]]:
    """Weigh many houses, and give each one's answer, or all that is wrong with it, by its name.

    Parameters
    ----------
    houses : mapping of str to House, path or callable, or iterable
        Each house by the name it shall have in every frame: a House; the path of its folder or workbook; a callable
        that makes one, as ``partial(House.from_frames, bills, loads)``; or the InputError that came in its place. Pairs
        of a name and one of these are taken one by one, as they are weighed, from however long an iterator. Houses
        alone go by their own names, paths alone by the name of the folder or file, in full where two are alike.
    executor : Executor, optional
        Any :class:`concurrent.futures.Executor`: houses are independent, and everything pickles. Without one they are
        weighed one after another, as they are asked for.
    ahead : int
        How many houses are with the executor at once.
    odds : mapping of str to float, optional
        As of :func:`reconcile.reconcile`, for all of them.
    costs : Costs or mapping of str to float, optional
        As of :func:`reconcile.reconcile`, for all of them.

    Returns
    -------
    iterator of (name, Reconciliation, InputError or CrashError)
        Pairs in the order given, as they come. A house that is refused, or whose callable raises, gives an InputError;
        one on which the program itself fails a :class:`reconcile.CrashError`. Each fault names its house.

    Raises
    ------
    TypeError, ValueError
        At the call, where these are no houses, two of a list have one name, or odds or costs are wrong. Of pairs that
        come from an iterator a name that comes again is warned of.

    Examples
    --------
    >>> answers = dict(reconcile_many(Path("houses").iterdir()))  # doctest: +SKIP
    >>> reconcile.frames.houses(answers)  # doctest: +SKIP
    """
    if ahead < 1:
        raise ValueError(f"ahead is how many houses are with the executor at once, 1 or more, not {ahead}")
    weigh = partial(_outcome, odds=checked_odds(odds), costs=checked_costs(costs))
    named = _named(houses)
    return _in_turn(named, weigh) if executor is None else _spread(named, weigh, executor, ahead)


def _in_turn(named: Iterator[tuple[Any, Any]], weigh: Callable[[Any, Any], Outcome]) -> Iterator[tuple[Any, Outcome]]:
    for name, given in named:
        yield name, weigh(name, given)


def _spread(
    named: Iterator[tuple[Any, Any]], weigh: Callable[[Any, Any], Outcome], executor: Executor, ahead: int
) -> Iterator[tuple[Any, Outcome]]:
    """Keep some houses ahead with the executor; give the answers in the order of the houses."""
    out: deque[tuple[Any, Future[Outcome]]] = deque()
    try:
        for name, given in named:
            out.append((name, executor.submit(weigh, name, given)))
            if len(out) >= ahead:
                yield _back(out)
        while out:
            yield _back(out)
    finally:
        for _, future in out:
            future.cancel()


def _back(out: deque[tuple[Any, Future[Outcome]]]) -> tuple[Any, Outcome]:
    name, future = out[0]
    try:
        outcome = future.result()
    except (BrokenExecutor, CancelledError) as error:
        error.add_note(f"With the workers were {', '.join(repr(str(name)) for name, _ in out)}.")
        raise
    except Exception as error:
        outcome = _refused(name, f"it could not be sent to a worker and back: {_said(error)}", error)
    out.popleft()
    return name, outcome


def _named(houses: Any) -> Iterator[tuple[Any, Any]]:
    """Return pairs of a name and what was given; a list is named at once, pairs one by one."""
    if isinstance(houses, Mapping):
        return iter(houses.items())
    if isinstance(houses, str | bytes | os.PathLike | House) or hasattr(houses, "columns") or not _iterable(houses):
        raise TypeError(
            f"reconcile_many() takes a list of houses or paths, or a mapping of names to them, not {_kind(houses)}"
        )
    given = iter(houses)
    first = next(given, None)
    if isinstance(first, tuple):
        if isinstance(houses, Sequence):
            _each_once([pair[0] for pair in houses if isinstance(pair, tuple) and len(pair) == 2])
        return _pairs(first, given)
    return iter([] if first is None else _of_list([first, *given]))


def _iterable(value: Any) -> bool:
    return hasattr(value, "__iter__") or hasattr(value, "__getitem__")


def _pairs(first: tuple[Any, Any], rest: Iterator[tuple[Any, Any]]) -> Iterator[tuple[Any, Any]]:
    seen = set()
    for n, pair in enumerate(_chained(first, rest)):
        name, given = pair if isinstance(pair, tuple) and len(pair) == 2 else (f"number {n + 1}", pair)
        if name in seen:
            warnings.warn(f"several houses have the name {name!r}", stacklevel=3)
        seen.add(name)
        yield name, given


def _chained(first: Any, rest: Iterator[Any]) -> Iterator[Any]:
    yield first
    yield from rest


def _of_list(given: list[Any]) -> list[tuple[str, Any]]:
    """Houses by their own names, paths by the last part of theirs, or the whole where two are alike."""
    ends = Counter(_end(one) for one in given if not isinstance(one, House))
    names = [
        one.name if isinstance(one, House) else _end(one) if ends[_end(one)] == 1 else os.fsdecode(one) for one in given
    ]
    _each_once(names)
    return list(zip(names, given, strict=True))


def _each_once(names: list[Any]) -> None:
    twice = [name for name, count in Counter(names).items() if count > 1]
    if twice:
        raise ValueError(f"several houses have the name {twice[0]!r}: give a mapping of names to houses")


def _end(place: Any) -> str:
    if not isinstance(place, str | bytes | os.PathLike):
        raise TypeError(f"reconcile_many() takes a list of houses or paths; in this one is {_kind(place)}")
    return Path(os.fsdecode(place)).name


def _outcome(name: Any, given: Any, **more: Any) -> Outcome:
    try:
        house = _house(name, given)
    except InputError as error:
        return _of_house(name, error)
    except Exception as error:
        return _refused(name, f"making it raised {_said(error)}", error)
    try:
        passed, house = house.passed, replace(house, name=str(name))
        return reconcile(house.through_gate() if passed else house, **more)
    except InputError as error:
        return _of_house(name, error)
    except Exception as error:
        fault = Fault(
            "the program",
            f"a fault of the program and not of the house: {_said(error)}",
            "Report it with the traceback, which is a note of this error.",
            house=str(name),
        )
        return _noted(CrashError([fault]), error)


def _house(name: Any, given: Any) -> House:
    if isinstance(given, InputError):
        raise given
    if isinstance(given, House):
        return given
    if isinstance(given, str | bytes | os.PathLike):
        if not os.fsdecode(given):
            raise _refused(name, "this is a path of no length")
        return read_house(os.fsdecode(given))
    if not callable(given):
        raise _refused(name, f"this is {_kind(given)}" + (" and no house" if given is not None else ""))
    made = given()
    if not isinstance(made, House):
        raise _refused(name, f"what it made is {_kind(made)}" + (" and no House" if made is not None else ""))
    return made


def _kind(value: Any) -> str:
    kind = type(value).__name__
    return "nothing" if value is None else f"{'an' if kind[0] in 'aeiouAEIOU' else 'a'} {kind}"


def _said(error: BaseException) -> str:
    """What was raised, and the line that raised it."""
    steps = traceback.extract_tb(error.__traceback__)
    where = f" (line {steps[-1].lineno} of {Path(steps[-1].filename).name})" if steps else ""
    text = " ".join(str(error).split())
    return f"{type(error).__name__}{f': {text}' if text else ''}{where}"


def _refused(name: Any, problem: str, error: Exception | None = None) -> InputError:
    remedy = "Give a House, a path, or a callable that returns a House."
    made = InputError([Fault("what was given", problem, remedy, house=str(name))])
    return made if error is None else _noted(made, error)


WithFaults = TypeVar("WithFaults", InputError, CrashError)


def _noted(made: WithFaults, error: Exception) -> WithFaults:
    """Keep what was raised: as the cause here, and as text across processes."""
    made.__cause__ = error
    made.add_note("".join(traceback.format_exception(error)))
    return made


def _of_house(name: Any, error: InputError) -> InputError:
    made = InputError(replace(fault, house=str(name)) for fault in error.faults)
    for note in getattr(error, "__notes__", ()):
        made.add_note(note)
    made.__cause__ = error.__cause__
    return made
