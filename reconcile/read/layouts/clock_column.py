"""A column of clock times: texts, hours, numbers of periods, or parts of a day as a spreadsheet counts them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Bytes, Flags, Places
from reconcile.clock import DAY_SECONDS
from reconcile.read.layouts.raw_tables import Column, as_bytes
from reconcile.read.values.clock_cells import Clock, read_clock
from reconcile.records import dataclass

HOUR = 3600
NEAR_MINUTE = 0.02
"""How far a part of a day may miss a whole minute, for the digits it is written with [min]."""
PERIODS = ((46, 50, 1800), (92, 100, 900), (276, 300, 300))
"""Highest number of a period of the day, from and to, and its length [s]."""

MOST_A_DAY = 1500
"""Cells within which a column of clock times begins anew: minutes of a day, and some."""

_DIGITS = re.compile(r"\d{1,4}", re.ASCII)
_DOTTED = re.compile(r"(?:[01]?\d|2[0-4])\.[0-5]\d", re.ASCII)
_SIX = re.compile(r"\d{5,6}", re.ASCII)
_LETTERED = re.compile(r"^(?:p|sp|hh|q|int|period|interval)[ _-]?(?=\d{1,3}$)", re.IGNORECASE | re.ASCII)
"""Letters before the numbers of periods of a day."""
_FRACTION = re.compile(r"0?\.\d+(?:e-\d+)?|\d\.?\d*e-\d+|[01](?:\.0+)?", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True, slots=True)
class ClockSeconds:
    """What a column of clock times reads."""

    seconds: NDArray[np.int32]
    """Second of the day [s]."""
    bad: Flags
    """What is no clock time."""
    counted: NDArray[np.int32]
    """Seconds since the day began at which numbered hours or periods end, or begin where they count from 0; else 0."""
    ending: bool
    """Whether the texts say that they end."""
    spans: bool
    """Whether they begin: a span of two, or a numbered period."""


@dataclass(slots=True)
class ClockColumn:
    """Gathers a column's distinct texts and the place of each cell's among them, a piece at a time."""

    texts: list[str] = field(default_factory=list)
    places: list[NDArray[np.int32]] = field(default_factory=list)
    of_cells: dict[bytes, int] = field(default_factory=dict)
    """Place of the text of each distinct cell, so that what comes again every day is decoded once."""
    of_texts: dict[str, int] = field(default_factory=dict)

    def add(self, column: Column) -> None:
        """Add a piece."""
        cells = as_bytes(column)
        width = -(-max(cells.dtype.itemsize, 1) // 8) * 8
        cells = np.ascontiguousarray(cells, dtype=f"S{width}")
        period = _period(cells.view(np.uint64).reshape(len(cells), -1))
        distinct, place = _distinct(cells if period is None else cells[:period])
        words = distinct.tolist()
        for word in words:
            if word not in self.of_cells:
                text = word.decode("utf-8", "replace").strip()
                if text not in self.of_texts:
                    self.of_texts[text] = len(self.texts)
                    self.texts.append(text)
                self.of_cells[word] = self.of_texts[text]
        known_at: NDArray[np.int32] = np.array([self.of_cells[word] for word in words], dtype=np.int32)[place]
        self.places.append(known_at if period is None else np.tile(known_at, len(cells) // period + 1)[: len(cells)])

    def read(self) -> ClockSeconds:
        """Read all of them in one way."""
        seconds, counted, bad, ending, spans = _read(self.texts)
        return ClockSeconds(self._of_each(seconds), self._of_each(bad), self._of_each(counted), ending, spans)

    def _of_each(self, read: NDArray[Any]) -> NDArray[Any]:
        """Return what the text of each cell reads, a piece at a time: so no index of the whole column is made."""
        if not read.any():
            return np.zeros(sum(len(place) for place in self.places), dtype=read.dtype)
        return np.concatenate([read[place] for place in self.places])


def _period(words: NDArray[np.uint64]) -> int | None:
    """Return after how many cells a column repeats itself, as clock times do every day; None where it does not."""
    first: Flags = np.all(words[1:MOST_A_DAY] == words[:1], axis=1)
    if len(words) < MOST_A_DAY or not first.any():
        return None
    period = int(np.argmax(first)) + 1
    return period if all(bool((column[period:] == column[:-period]).all()) for column in words.T) else None


def _distinct(cells: Bytes) -> tuple[Bytes, Places]:
    """Return the distinct texts and the place of each cell's among them."""
    if cells.dtype.itemsize > 8:
        texts, place = np.unique(cells, return_inverse=True)
        return texts, place
    numbers, place = np.unique(cells.view(np.uint64), return_inverse=True)  # eight bytes sort as one number
    return numbers.view("S8"), place


def _read(texts: Sequence[str]) -> tuple[NDArray[np.int32], NDArray[np.int32], Flags, bool, bool]:
    six = _six_digits(texts)
    if six is not None:
        return _ints(six), np.zeros(len(six), np.int32), _none(six), False, False
    texts = [_LETTERED.sub("", text) for text in texts]
    if _are_dotted(texts):
        texts = [text.replace(".", ":") for text in texts]
    number = numbered(texts)
    if number is not None:
        step, first = number
        values = [int(text) if _DIGITS.fullmatch(text) else None for text in texts]
        if step == 0:
            full = [
                None if v is None or v % 100 > 59 or v > 2400 else HOUR * (v // 100) + 60 * (v % 100) for v in values
            ]
            return _ints(full), np.zeros(len(full), np.int32), _none(full), False, False
        begins = [None if v is None or v < first else step * (v - first) for v in values]
        ends = [None if at is None else at + step for at in begins]
        return _ints(begins), _ints(ends), _none(begins), False, True
    full_texts = [text for text in texts if text]
    if _are_parts_of_a_day(full_texts):
        parts = [round(DAY_SECONDS * float(text)) if text else None for text in texts]
        return _ints(parts), np.zeros(len(parts), np.int32), _none(parts), False, False
    clocks = [read_clock(text) for text in texts]
    hours = [HOUR * c.hour if c is not None and c.hour is not None else 0 for c in clocks]
    ending = any(c is not None and c.ending for c in clocks)
    spans = any(c is not None and c.span for c in clocks)
    return _ints([_second(c) for c in clocks]), _ints(hours), _none(clocks), ending, spans


def _six_digits(texts: Sequence[str]) -> list[int | None] | None:
    """Return the seconds of clock times as 013000, whose first zeros may be lost; None where they are none."""
    if not any(_SIX.fullmatch(text) for text in texts) or not all(text.isdigit() or not text for text in texts):
        return None
    parts = [(int(text) // 10_000, int(text) // 100 % 100, int(text) % 100) if text else None for text in texts]
    if any(part is not None and (part[0] > 24 or part[1] > 59 or part[2] > 59) for part in parts):
        return None
    return [None if part is None else HOUR * part[0] + 60 * part[1] + part[2] for part in parts]


def _are_dotted(texts: Sequence[str]) -> bool:
    """Whether all are clock times with a point between hour and minute, as 14.30."""
    full = [text for text in texts if text]
    return all(_DOTTED.fullmatch(text) for text in full) and any(float(text) >= 2.0 for text in full)


def _are_parts_of_a_day(texts: Sequence[str]) -> bool:
    """Whether all are parts of a day, and whole minutes: values of energy are not."""
    if not any("." in text for text in texts) or not all(_FRACTION.fullmatch(text) for text in texts):
        return False
    minutes = [1440.0 * float(text) for text in texts]
    return all(abs(minute - round(minute)) < NEAR_MINUTE for minute in minutes)


def _second(clock: Clock | None) -> int | None:
    if clock is None:
        return None
    return clock.second if clock.second is not None else HOUR * (clock.hour or 0)


def numbered(texts: Sequence[str]) -> tuple[int, int] | None:
    """Return the step of numbered periods [s] and the first number, or (0, 0) for clock times without a colon.

    Examples
    --------
    >>> numbered(["0", "15", "30", "45", "100"]), numbered([str(n) for n in range(1, 49)]), numbered(["1", "24"])
    ((0, 0), (1800, 1), None)
    """
    full = [text for text in texts if _DIGITS.fullmatch(text)]
    if not full or len(full) < 0.8 * len([text for text in texts if text]):
        return None
    values = [int(text) for text in full]
    if any(len(text) >= 3 for text in full) and all(v % 100 < 60 and v <= 2400 for v in values):
        return 0, 0
    most = max(values)
    step = next((step for low, high, step in PERIODS if low <= most <= high), None)
    return None if step is None else (step, min(min(values), 1))


def _ints(values: Sequence[int | None]) -> NDArray[np.int32]:
    return np.array([0 if value is None else value for value in values], dtype=np.int32)


def _none(values: Sequence[object]) -> Flags:
    return np.array([value is None for value in values], dtype=bool)
