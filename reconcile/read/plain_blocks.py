"""Blocks of plain text as columns, eight letters at a time, where a table is as regular as exports mostly are.

A block is taken only where every line has the same number of separators; anything else is left to the
parser that knows every case. Numbers are whole digits divided by a power of ten, which is rounded as a parser rounds
(both are exact below 2**53 and 10**22).
"""

from __future__ import annotations

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

    def text(self, column: int) -> NDArray[np.bytes_] | None:
        """Return a column as bytes; None where a blank or a quote begins one of its fields."""
        if column >= self.begins.shape[1]:
            return np.zeros(self.rows, dtype="S1")
        begins = self.begins[:, column]
        widths = self.ends[:, column] - begins
        size = max(-(-int(widths.max()) // WORD), 1)
        out = np.empty((self.rows, size), dtype=np.uint64)
        same = bool((widths == widths[0]).all())
        for at in range(size):
            words = self._at(begins + WORD * at if at else begins)
            if not same:
                words &= _KEEP_FIRST[np.clip(widths - WORD * at, 0, WORD)]
            elif int(widths[0]) < WORD * (at + 1):
                words &= _KEEP_FIRST[int(widths[0]) - WORD * at]
            out[:, at] = words
        first = out[:, 0].view(np.uint8)[::WORD] if size == 1 else out.view(np.uint8)[:, 0]
        if ((first <= ord('"')) & (first > 0)).any():
            return None
        return out.reshape(-1).view(f"S{WORD * size}")

    def numbers(self, column: int) -> Floats | None:
        """Return a column of plain numbers; None where too many of its fields are none."""
        if column >= self.begins.shape[1]:
            return np.full(self.rows, np.nan)
        ends = self.ends[:, column]
        widths = ends - self.begins[:, column]
        least, most = int(widths.min()), int(widths.max())
        if most > LONGEST_NUMBER:
            return None
        values, sure = _parsed(self, ends, widths, least, most)
        if least == 0:
            blank = widths == 0
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


def _parsed(block: Block, ends: Ints, widths: Ints, least: int, most: int) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the numbers that end at each place, and which of them are digits and one point."""
    low = _filled(block._at(ends - WORD), widths if least < most else least)
    points = [at for at in range(WORD) if int(low[0] >> np.uint64(8 * at)) & 0xFF == ord(".")]
    decimals = WORD - 1 - points[-1] if points else None
    values, sure = _with_decimals(low, decimals)
    if most > WORD:
        _add_upper(block, ends, widths, decimals, values, sure)
    if least < 2:
        sure &= widths > (0 if decimals is None else 1)
    todo = np.flatnonzero(~sure)
    for other in (None, *range(WORD)):
        if len(todo) == 0 or other == decimals:
            continue
        more, right = _with_decimals(low[todo], other)
        _add_upper(block, ends[todo], widths[todo], other, more, right)
        right &= widths[todo] > (0 if other is None else 1)
        values[todo[right]] = more[right]
        sure[todo[right]] = True
        todo = todo[~right]
    return values, sure


def _filled(words: Words, widths: Ints | int) -> Words:
    """Put zeros in the place of what stands before the field."""
    keep = _KEEP_LAST[np.minimum(widths, WORD)]
    filled: Words = (words & keep) | (_ZERO & ~keep)
    return filled


def _with_decimals(low: Words, decimals: int | None) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the numbers of the last eight letters, which of them have so many decimals."""
    if decimals is None:
        return _value(low).astype(np.float64), _are_digits(low)
    at = WORD - 1 - decimals
    sure = low & _mask(at, at + 1) == _POINT << np.uint64(8 * at)
    behind, before = _mask(at + 1, WORD), _mask(1, at + 1)
    digits = low << np.uint64(8)
    digits &= before
    digits |= low & behind
    digits |= _ZERO & _mask(0, 1)
    sure &= _are_digits(digits)
    return _value(digits) / 10.0**decimals, sure


def _add_upper(
    block: Block, ends: Ints, widths: Ints, decimals: int | None, values: Floats, sure: NDArray[np.bool_]
) -> None:
    """Add what stands before the last eight letters of longer numbers, as whole digits before they are divided."""
    long = np.flatnonzero(sure & (widths > WORD))
    if len(long) == 0:
        return
    high = _filled(block._at(ends[long] - 2 * WORD), np.maximum(widths[long] - WORD, 0))
    upper = _value(high)
    right = _are_digits(high) & (upper < 10**7)  # so that all digits together stay below 2**53
    sure[long[~right]] = False
    size = 10.0 ** (decimals or 0)
    power = 10 ** (WORD if decimals is None else WORD - 1)
    lower = np.rint(values[long] * size).astype(np.int64)
    values[long] = (upper * power + lower) / size


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
    whole: Ints = value.view(np.int64)
    return whole


def block_of(text: bytes | memoryview, delimiter: str) -> Block | None:
    r"""Divide a block of whole lines into fields; None where it is not regular.

    Parameters
    ----------
    text : bytes or memoryview
        Whole lines, each with its end, without quotes or carriage returns.
    delimiter : str
        One letter.

    Returns
    -------
    Block or None

    Examples
    --------
    >>> block = block_of(b"a,0.50\nbc,12.25\n", ",")
    >>> block.text(0).tolist(), block.numbers(1).tolist(), block_of(b"a,1\nb\n", ",")
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
    first, rows = int(np.argmax(lines)), int(np.count_nonzero(lines))
    lines |= inner == ord(delimiter)
    edges = np.flatnonzero(lines)
    fields = int(np.searchsorted(edges, first)) + 1
    if len(edges) % fields:
        return None
    ends = edges.reshape(-1, fields)
    if rows != len(ends) or (inner[ends[:, -1]] != ord("\n")).any():
        return None
    begins = np.empty_like(ends)
    begins.reshape(-1)[0] = 0
    begins.reshape(-1)[1:] = edges[:-1] + 1
    shift = 2 * WORD
    return Block(letters, begins + shift, ends + shift)
