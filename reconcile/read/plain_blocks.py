"""Blocks of plain text as columns, eight letters at a time, where a table is as regular as exports mostly are.

A block is taken only where every line has the same number of separators; anything else is left to the
parser that knows every case. Numbers are whole digits divided by a power of ten, which is rounded as a parser rounds
(both are exact below 2**53 and 10**22).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

WORD = 8
LONGEST_NUMBER = 16
FEW_ODD = 0.02
"""Share of the numbers of a block that are read one by one (our choice: more are left to the parser)."""

_ONES = np.uint64(0x0101010101010101)
_POINT, _ZERO = np.uint64(ord(".")), np.uint64(0x3030303030303030)
_HIGH = np.uint64(0x8080808080808080)

Words = NDArray[np.uint64]
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


def _mask(first: int, after: int) -> np.uint64:
    """Return the bytes from ``first`` up to ``after`` of a word, counted as they stand in the text."""
    return np.uint64(sum(0xFF << (8 * at) for at in range(first, after)))


_KEEP_FIRST = np.array([_mask(0, n) for n in range(WORD + 1)])
_KEEP_LAST = np.array([_mask(WORD - n, WORD) for n in range(WORD + 1)])


@dataclass(frozen=True, slots=True)
class Block:
    """A block of lines whose fields are known.

    Attributes
    ----------
    letters : ndarray of uint8
        The text, behind and before some letters that are no part of it.
    begins, ends : ndarray of int64
        Of each field: a row a line, a column a field.
    """

    letters: NDArray[np.uint8]
    begins: Ints
    ends: Ints

    @property
    def fields(self) -> int:
        """Number of fields of each line."""
        return int(self.begins.shape[1])

    @property
    def rows(self) -> int:
        """Number of lines."""
        return len(self.begins)

    def _at(self, places: Ints) -> Words:
        """Return the eight letters that begin at each place; behind the end of the text, whatever stands there."""
        every = np.lib.stride_tricks.as_strided(
            self.letters[:WORD].view(np.uint64), shape=(len(self.letters) - WORD + 1,), strides=(1,)
        )
        words: Words = every[np.minimum(places, len(every) - 1)]
        return words

    def text(self, column: int) -> NDArray[np.bytes_]:
        """Return a column as bytes."""
        if column >= self.begins.shape[1]:
            return np.zeros(self.rows, dtype="S1")
        begins = self.begins[:, column]
        widths = self.ends[:, column] - begins
        size = max(-(-int(widths.max()) // WORD), 1)
        out = np.empty((self.rows, size), dtype=np.uint64)
        same = bool((widths == widths[0]).all())
        for at in range(size):
            words = self._at(begins + WORD * at)
            here = widths[:1] if same else widths
            out[:, at] = words & _KEEP_FIRST[np.clip(here - WORD * at, 0, WORD)]
        return out.reshape(-1).view(f"S{WORD * size}")

    def numbers(self, column: int) -> Floats | None:
        """Return a column of plain numbers; None where too many of its fields are none."""
        if column >= self.begins.shape[1]:
            return np.full(self.rows, np.nan)
        ends = self.ends[:, column]
        widths = ends - self.begins[:, column]
        if int(widths.max()) > LONGEST_NUMBER:
            return None
        values, sure = _parsed(self, ends, widths)
        blank = widths == 0
        if blank.any():
            values[blank] = np.nan
            sure |= blank
        odd = np.flatnonzero(~sure)
        if len(odd) > FEW_ODD * self.rows + 1:
            return None
        for row in odd.tolist():
            text = self.letters[self.begins[row, column] : ends[row]].tobytes()
            if text.strip(b"0123456789.eE+-"):
                return None
            try:
                values[row] = float(text)
            except ValueError:
                return None
            if not (text[-1:].isdigit() and np.isfinite(values[row])):
                return None
        return values


def _parsed(block: Block, ends: Ints, widths: Ints) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the numbers that end at each place, and which of them are digits and one point."""
    low = _filled(block._at(ends - WORD), widths)
    points = [at for at in range(WORD) if int(low[0] >> np.uint64(8 * at)) & 0xFF == ord(".")]
    decimals = WORD - 1 - points[-1] if points else None
    values, sure = _with_decimals(block, low, ends, widths, decimals)
    todo = np.flatnonzero(~sure)
    for other in (None, *range(WORD)):
        if len(todo) == 0 or other == decimals:
            continue
        more, right = _with_decimals(block, low[todo], ends[todo], widths[todo], other)
        values[todo[right]] = more[right]
        sure[todo[right]] = True
        todo = todo[~right]
    return values, sure


def _filled(words: Words, widths: Ints) -> Words:
    """Put zeros in the place of what stands before the field."""
    keep = _KEEP_LAST[np.minimum(widths, WORD)]
    filled: Words = (words & keep) | (_ZERO & ~keep)
    return filled


def _with_decimals(
    block: Block, low: Words, ends: Ints, widths: Ints, decimals: int | None
) -> tuple[Floats, NDArray[np.bool_]]:
    if decimals is None:
        sure, digits, power = _are_digits(low), low, 10**WORD
    else:
        at = WORD - 1 - decimals
        sure = (low >> np.uint64(8 * at)) & np.uint64(0xFF) == _POINT
        behind = _mask(at + 1, WORD)
        digits = ((low << np.uint64(8)) & ~behind & ~_mask(0, 1)) | (low & behind) | (_ZERO & _mask(0, 1))
        sure &= _are_digits(digits)
        power = 10 ** (WORD - 1)
    whole = _value(digits)
    long = np.flatnonzero(sure & (widths > WORD))
    if len(long):
        high = _filled(block._at(ends[long] - 2 * WORD), np.maximum(widths[long] - WORD, 0))
        right = _are_digits(high)
        upper = _value(high)
        right &= upper < 10**7  # so that all digits together stay below 2**53
        sure[long[~right]] = False
        whole[long] += upper * power
    sure &= widths > (0 if decimals is None else 1)
    return whole / 10.0 ** (decimals or 0), sure


def _are_digits(words: Words) -> NDArray[np.bool_]:
    over = words + np.uint64(0x4646464646464646)
    over |= words - _ZERO
    over &= _HIGH
    digits: NDArray[np.bool_] = over == 0
    return digits


def _value(words: Words) -> Ints:
    """Return the number that eight digits make, two, four and eight of them at a time."""
    value = words & np.uint64(0x0F0F0F0F0F0F0F0F)
    for factor, shift, keep in (
        (2561, 8, 0x00FF00FF00FF00FF),
        (6553601, 16, 0x0000FFFF0000FFFF),
        (42949672960001, 32, 0xFFFFFFFF),
    ):
        value *= np.uint64(factor)
        value >>= np.uint64(shift)
        value &= np.uint64(keep)
    return value.astype(np.int64)


def block_of(text: bytes | memoryview, delimiter: str, columns: Sequence[int]) -> Block | None:
    r"""Divide a block of whole lines into fields; None where it is not regular.

    Parameters
    ----------
    text : bytes or memoryview
        Whole lines, each with its end, without quotes or carriage returns.
    delimiter : str
        One letter.
    columns : sequence of int
        Those that are wanted.

    Returns
    -------
    Block or None

    Examples
    --------
    >>> block = block_of(b"a,0.50\nbc,12.25\n", ",", [0, 1])
    >>> block.text(0).tolist(), block.numbers(1).tolist(), block_of(b"a,1\nb\n", ",", [0])
    ([b'a', b'bc'], [0.5, 12.25], None)
    """
    if len(text) == 0:
        return None
    end = 0 if text[-1] == ord("\n") else 1  # the last line of a file may lack its end
    letters = np.empty(len(text) + end + 4 * WORD, dtype=np.uint8)
    letters[: 2 * WORD] = letters[-2 * WORD :] = 0
    inner = letters[2 * WORD : -2 * WORD]
    inner[: len(text)] = np.frombuffer(text, dtype=np.uint8)
    inner[len(text) :] = ord("\n")
    lines = inner == ord("\n")
    first = int(np.argmax(lines))
    lines |= inner == ord(delimiter)
    edges = np.flatnonzero(lines)
    fields = int(np.searchsorted(edges, first)) + 1
    if len(edges) % fields:
        return None
    ends = edges.reshape(-1, fields)
    kinds = inner[ends]
    if (kinds[:, -1] != ord("\n")).any() or (fields > 1 and (kinds[:, :-1] == ord("\n")).any()):
        return None
    begins = np.empty_like(ends)
    begins.reshape(-1)[0] = 0
    begins.reshape(-1)[1:] = edges[:-1] + 1
    taken = [column for column in columns if column < fields]
    if any((inner[np.minimum(begins[:, column], len(inner) - 1)] <= ord('"')).any() for column in taken):
        # a blank, a quote or an end of line begins one of the fields: not so plain, unless it is empty
        for column in taken:
            full = begins[:, column] < ends[:, column]
            if (inner[begins[full, column]] <= ord('"')).any():
                return None
    shift = 2 * WORD
    return Block(letters, begins + shift, ends + shift)
