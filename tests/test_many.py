"""Many houses at once: each by itself, whatever one of them is, raises or does to its worker."""

from __future__ import annotations

import json
import os
import pickle
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import reconcile
from reconcile.errors import CrashError, Fault, InputError
from reconcile.frames import houses
from reconcile.house import House

SAMPLES = Path(__file__).parents[1] / "sample_bills"
DAYS = pd.to_datetime(["2025-01-11", "2025-02-12", "2025-03-12"])
BILLS = pd.DataFrame({"start": DAYS[:-1], "end": DAYS[1:], "kwh": [600.0, 580.0]})


def north() -> House:
    return House.from_frames(BILLS, name="north")


def without_a_key() -> House:
    house: House = {}["kwh"]
    return house


def told(given: Any, **more: Any) -> dict[str, Any]:
    return dict(reconcile.reconcile_many(given, **more))


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (without_a_key, "making it raised KeyError: 'kwh' (line "),
        (lambda: 5, "what it made is an int and no House"),
        (lambda: None, "what it made is nothing"),
        (BILLS, "this is a DataFrame and no house"),
        (None, "this is nothing"),
        (7, "this is an int and no house"),
        ("", "this is a path of no length"),
        (b"\xff/nowhere", "there is no such folder or file"),
    ],
    ids=["raises", "makes-a-number", "makes-nothing", "frame", "nothing", "number", "no-path", "bytes"],
)
def test_a_house_that_is_none_loses_none_of_the_others(wrong: Any, says: str) -> None:
    found = told({"a": north(), "bad": wrong, "z": north()})
    assert list(found) == ["a", "bad", "z"]
    assert isinstance(found["z"], reconcile.Reconciliation)
    error = found["bad"]
    assert isinstance(error, InputError)
    assert [fault.house for fault in error.faults] == ["bad"]
    assert says in str(error)
    assert str(error).endswith(".")
    assert houses(found).faults[1] == [str(fault) for fault in error.faults]


def test_what_a_callable_raised_is_kept() -> None:
    error = told({"bad": without_a_key})["bad"]
    assert isinstance(error.__cause__, KeyError)
    assert "(line " in str(error)
    assert "test_many.py" in str(error)


def test_an_input_error_of_a_callable_is_its_own() -> None:
    error = told({"bad": partial(House.from_frames, BILLS.assign(kwh=[-1.0, 2.0]))})["bad"]
    assert [(fault.house, fault.column) for fault in error.faults] == [("bad", "kwh")]


def test_a_fault_of_the_program_is_given_in_the_place_of_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    from reconcile import many

    real = many.reconcile

    def broken(house: House, **more: Any) -> reconcile.Reconciliation:
        if house.name == "bad":
            raise ZeroDivisionError("division by zero")
        return real(house, **more)

    monkeypatch.setattr(many, "reconcile", broken)
    found = told({"a": north(), "bad": north(), "z": north()})
    assert isinstance(found["z"], reconcile.Reconciliation)
    error = found["bad"]
    assert isinstance(error, CrashError)
    assert not isinstance(error, InputError)
    assert isinstance(error.__cause__, ZeroDivisionError)
    assert "a fault of the program" in str(error)
    assert "ZeroDivisionError: division by zero" in str(error)
    assert "Traceback" in error.__notes__[0]
    there = pickle.loads(pickle.dumps(error))
    assert (type(there), there.faults, there.__notes__) == (CrashError, error.faults, error.__notes__)
    assert houses(found).faults[1] == [str(fault) for fault in error.faults]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("houses", "a list of houses"),
        (Path("houses"), "a list of houses"),
        (north(), "a list of houses"),
        (BILLS, "a list of houses"),
        ([north(), north()], "several houses have the name 'north'"),
        ([("a", north()), ("a", north())], "several houses have the name 'a'"),
        (3, "a list of houses"),
    ],
    ids=lambda value: type(value).__name__,
)
def test_what_is_no_list_of_houses_is_told_at_the_call(given: Any, says: str) -> None:
    with pytest.raises((TypeError, ValueError), match=says):
        reconcile.reconcile_many(given)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"odd": {}}, "unexpected keyword"),
        ({"odds": {"meterstep": 3}}, "did you mean 'meter-step'"),
        ({"costs": {"calls": 3}}, "no cost"),
        ({"ahead": 0}, "ahead"),
    ],
)
def test_wrong_settings_are_told_once_and_before_any_house(more: Any, says: str) -> None:
    with pytest.raises((TypeError, ValueError), match=says):
        reconcile.reconcile_many({"a": north()}, **more)


def test_houses_alone_pairs_and_names_that_are_numbers() -> None:
    assert list(told([north(), House.from_frames(BILLS, name="south")])) == ["north", "south"]
    assert list(told(iter([("a", north()), ("b", north)]))) == ["a", "b"]
    by_number = told({17: north(), 18: partial(House.from_frames, None)})
    assert list(by_number) == [17, 18]
    assert by_number[17].house.name == "17"
    assert [fault.house for fault in by_number[18].faults] == ["18"]
    assert houses(by_number).house.tolist() == ["17", "18"]
    with pytest.warns(UserWarning, match="several houses have the name 'a'"):
        assert len(list(reconcile.reconcile_many(iter([("a", north()), ("a", north())])))) == 2
    assert told([]) == told({}) == {}


def test_pairs_are_taken_one_by_one() -> None:
    taken = []

    def endless() -> Iterator[tuple[str, Callable[[], House]]]:
        for n in range(10**9):
            taken.append(n)
            yield f"house {n}", north

    answers = reconcile.reconcile_many(endless())
    assert [next(answers)[0] for _ in range(3)] == ["house 0", "house 1", "house 2"]
    assert len(taken) == 3


class Counting(Executor):
    """Threads started at once, that count how many houses are with them and not yet given back."""

    def __init__(self) -> None:
        self.handed = 0

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.handed += 1
        future: Future[Any] = Future()

        def run() -> None:
            if future.set_running_or_notify_cancel():
                future.set_result(fn(*args, **kwargs))

        threading.Thread(target=run, daemon=True).start()
        return future


def test_no_more_are_handed_out_than_ahead_says() -> None:
    workers = Counting()
    given = ((f"house {n}", north) for n in range(10**9))
    answers = reconcile.reconcile_many(given, executor=workers, ahead=5)
    got = [next(answers)[0] for _ in range(4)]
    assert got == [f"house {n}" for n in range(4)]
    assert 5 <= workers.handed <= 4 + 5


def test_what_was_handed_out_is_called_back_where_nobody_waits_any_more() -> None:
    class Never(Executor):
        def __init__(self) -> None:
            self.futures: list[Future[Any]] = []

        def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
            self.futures.append(Future())
            if len(self.futures) == 1:
                self.futures[0].set_exception(KeyboardInterrupt())
            return self.futures[-1]

    workers = Never()
    with pytest.raises(KeyboardInterrupt):
        list(reconcile.reconcile_many({f"{n}": north for n in range(50)}, executor=workers, ahead=8))
    assert len(workers.futures) == 8
    assert all(future.cancelled() for future in workers.futures[1:])


def ends_its_worker() -> House:
    os._exit(3)


def test_a_pool_of_processes() -> None:
    """One pool, the order kept; what cannot be sent is told of its own house; a worker that dies names who was out."""
    given: dict[str, Any] = {f"house {n}": partial(House.from_frames, BILLS) for n in range(12)}
    given["house 3"] = lambda: north()  # no process can be sent a lambda
    given["house 5"] = without_a_key
    with ProcessPoolExecutor(2) as workers:
        found = told(given, executor=workers, ahead=4)
    assert list(found) == list(given)
    assert "it could not be sent to a worker" in str(found["house 3"])
    assert "KeyError: 'kwh'" in str(found["house 5"])
    assert "Traceback" in found["house 5"].__notes__[0]
    alone = told({"house 0": given["house 0"]})["house 0"]
    assert json.dumps(alone.to_dict()) == json.dumps(found["house 0"].to_dict())
    with ProcessPoolExecutor(1) as workers, pytest.raises(BrokenProcessPool) as caught:
        told({"a": north, "bad": ends_its_worker, "z": north}, executor=workers)
    assert "'bad'" in caught.value.__notes__[0]


def test_an_interrupt_ends_the_loop_at_once() -> None:
    """The houses handed out are few, so that leaving the pool does not wait for thousands."""
    began = time.monotonic()
    taken = []

    def interrupted() -> None:
        with ProcessPoolExecutor(1) as workers:
            for name, _ in reconcile.reconcile_many({f"{n}": north for n in range(5000)}, executor=workers):
                taken.append(name)
                if len(taken) == 3:
                    raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert time.monotonic() - began < 60.0


def test_faults_keep_what_was_noted_of_them_across_processes() -> None:
    error = InputError([Fault("bills frame", "it is empty", "Fill it.")])
    error.add_note("by the way")
    assert pickle.loads(pickle.dumps(error)).__notes__ == ["by the way"]
    assert not hasattr(pickle.loads(pickle.dumps(InputError(error.faults))), "__notes__")
