"""Blocks of plain text as columns, eight letters at a time, where a table is as regular as exports mostly are.

A block is taken only where every line has the same number of separators; anything else is left to the
parser that knows every case. Numbers are whole digits divided by a power of ten, which is rounded as a parser rounds
(both are exact below 2**53 and 10**22).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Bytes, Flags, Floats, Ints
from reconcile.records import dataclass

WORD = 8
LONGEST_NUMBER, LONGEST_LINE = 16, 65_536
FEW_ODD = 0.02
"""Share of the numbers of a block that are read one by one (our choice: more are left to the parser)."""

_POINT, _ZERO = np.uint64(ord(".")), np.uint64(0x3030303030303030)
_HIGH = np.uint64(0x8080808080808080)

Words = NDArray[np.uint64]


def _mask(first: int, after: int) -> np.uint64:
    """Return the bytes from ``first`` up to ``after`` of a word, counted as they stand in the text."""
    return np.uint64(sum(0xFF << (8 * at) for at in range(first, after)))


_KEEP_FIRST = np.array([_mask(0, n) for n in range(WORD + 1)])
_KEEP_LAST = np.array([_mask(WORD - n, WORD) for n in range(WORD + 1)])


@dataclass(frozen=True, slots=True)
class Even:
    """Places that lie at one distance from one another."""

    first: int
    stride: int
    count: int

    def moved(self, by: int) -> Even:
        """Return the places moved."""
        return Even(self.first + by, self.stride, self.count)

    def spread(self) -> Ints:
        """Return them one by one."""
        return self.first + self.stride * np.arange(self.count, dtype=np.int64)


@dataclass(frozen=True, slots=True)
class Block:
    """A block of lines whose fields are known."""

    letters: NDArray[np.uint8]
    """The text, behind and before some letters that are no part of it."""
    begins: tuple[Ints | Even, ...]
    ends: tuple[Ints | Even, ...]
    """Both: of each field, the places of all lines."""
    rows: int
    """Number of lines."""

    @property
    def fields(self) -> int:
        """Number of fields of each line."""
        return len(self.begins)

    def _at(self, places: Ints | Even, moved: int = 0) -> Words:
        """Return the eight letters that begin at each place; behind the end of the text, whatever stands there."""
        if isinstance(places, Even):
            first = self.letters[places.first + moved :][:WORD].view(np.uint64)
            return np.lib.stride_tricks.as_strided(first, shape=(places.count,), strides=(places.stride,)).copy()
        letters = self.letters[max(moved, 0) :]
        count = len(letters) - WORD + 1
        every = np.lib.stride_tricks.as_strided(letters[:WORD].view(np.uint64), shape=(count,), strides=(1,))
        if moved < 0:
            places = places + moved
        elif moved > WORD:  # two words stand behind the text
            places = np.minimum(places, count - 1)
        words: Words = every[places]
        return words

    def _widths(self, column: int) -> Ints | int:
        begins, ends = self.begins[column], self.ends[column]
        if isinstance(begins, Even) and isinstance(ends, Even):
            return ends.first - begins.first
        assert isinstance(begins, np.ndarray)
        assert isinstance(ends, np.ndarray)
        widths: Ints = ends - begins
        first = int(widths[0])
        return first if bool((widths == first).all()) else widths

    def text(self, column: int) -> Bytes | None:
        """Return a column as bytes; None where a blank or a quote begins one of its fields."""
        if column >= self.fields:
            return np.zeros(self.rows, dtype="S1")
        widths = self._widths(column)
        size = max(-(-(widths if isinstance(widths, int) else int(widths.max())) // WORD), 1)
        out = np.empty((self.rows, size), dtype=np.uint64)
        for at in range(size):
            words = self._at(self.begins[column], WORD * at)
            if not isinstance(widths, int):
                words &= _KEEP_FIRST.take(widths - WORD * at, mode="clip")
            elif widths < WORD * (at + 1):
                words &= _KEEP_FIRST[widths - WORD * at]
            out[:, at] = words
        first = out[:, 0].view(np.uint8)[::WORD] if size == 1 else out.view(np.uint8)[:, 0]
        if ((first <= ord('"')) & (first > 0)).any():
            return None
        return out.reshape(-1).view(f"S{WORD * size}")

    def numbers(self, column: int) -> Floats | None:
        """Return a column of plain numbers; None where too many of its fields are none."""
        if column >= self.fields:
            return np.full(self.rows, np.nan)
        return _numbers(self, self.begins[column], self.ends[column], self._widths(column))

    def numbers_of(self, columns: Sequence[int]) -> list[Floats] | None:
        """Return several columns of plain numbers, read at once; None where one of them is none."""
        if max(columns, default=0) >= self.fields:
            return None
        begins, ends = (_together([edges[at] for at in columns]) for edges in (self.begins, self.ends))
        values = _numbers(self, begins, ends, ends - begins)
        return None if values is None else list(values.reshape(self.rows, len(columns)).T)


def _together(places: Sequence[Ints | Even]) -> Ints:
    """Return the places of several columns, line by line, as they stand in the text."""
    even = [one for one in places if isinstance(one, Even)]
    if len(even) == len(places) and len({(one.stride, one.count) for one in even}) == 1:
        firsts = np.array([one.first for one in even], dtype=np.int64)
        return (replace(even[0], first=0).spread()[:, None] + firsts).reshape(-1)
    return np.stack([one.spread() if isinstance(one, Even) else one for one in places], axis=1).reshape(-1)


def _numbers(block: Block, begins: Ints | Even, ends: Ints | Even, widths: Ints | int) -> Floats | None:
    """Return the numbers in some fields; None where too many are none."""
    if isinstance(widths, int) and not 1 < widths <= WORD:  # what is neither short nor empty goes one by one
        begins = begins.spread() if isinstance(begins, Even) else begins
        ends = ends.spread() if isinstance(ends, Even) else ends
        widths = ends - begins
    minus = _letters_at(block, begins) == ord("-")
    if minus.any():
        begins, ends = (one.spread() if isinstance(one, Even) else one for one in (begins, ends))
        widths = ends - begins - minus
    least, most = (widths, widths) if isinstance(widths, int) else (int(widths.min()), int(widths.max()))
    if most > LONGEST_NUMBER:
        return None
    values, sure = _parsed(block, ends, widths, least, most)
    if least == 0:
        blank = widths == 0
        values[blank] = np.nan
        sure |= blank
    np.negative(values, out=values, where=minus)
    odd = np.flatnonzero(~sure)
    if len(odd) > FEW_ODD * len(values) + 1:
        return None
    firsts, afters = (one.spread() if isinstance(one, Even) else one for one in (begins, ends))
    for row in odd.tolist():
        text = block.letters[firsts[row] : afters[row]].tobytes()
        if text.strip(b"0123456789.eE+-"):
            return None
        try:
            values[row] = float(text)
        except ValueError:
            return None
        if not (text[-1:].isdigit() and np.isfinite(values[row])):
            return None
    return values


def _letters_at(block: Block, places: Ints | Even) -> NDArray[np.uint8]:
    if isinstance(places, Even):
        return block.letters[places.first :: places.stride][: places.count]
    letters: NDArray[np.uint8] = block.letters[places]
    return letters


def _parsed(block: Block, ends: Ints | Even, widths: Ints | int, least: int, most: int) -> tuple[Floats, Flags]:
    """Return the numbers that end at each place, and which of them are digits and one point."""
    low = _filled(block._at(ends, -WORD), widths if least < most else least)
    points = [at for at in range(WORD) if int(low[0] >> np.uint64(8 * at)) & 0xFF == ord(".")]
    decimals = WORD - 1 - points[-1] if points else None
    values, sure = _with_decimals(low, decimals)
    if isinstance(ends, Even) or isinstance(widths, int):
        ends, widths = np.empty(0, dtype=np.int64), np.full(len(low), least)
    if most > WORD:
        _add_upper(block, ends, widths, decimals, values, sure)
    if least < 2:
        sure &= widths > (0 if decimals is None else 1)
    todo = np.flatnonzero(~sure)
    for other in (None, *range(WORD)):
        if len(todo) == 0 or other == decimals:
            continue
        more, right = _with_decimals(low[todo], other)
        if most > WORD:
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


def _with_decimals(low: Words, decimals: int | None) -> tuple[Floats, Flags]:
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


def _add_upper(block: Block, ends: Ints, widths: Ints, decimals: int | None, values: Floats, sure: Flags) -> None:
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


def _are_digits(words: Words) -> Flags:
    over = words + np.uint64(0x4646464646464646)
    over |= words - _ZERO
    over &= _HIGH
    digits: Flags = over == 0
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
    shift = 2 * WORD
    inner = letters[shift:-shift]
    inner[: len(text)] = np.frombuffer(text, dtype=np.uint8)
    inner[len(text) :] = ord("\n")
    even = _even(letters, inner, delimiter)
    if even is not None:
        return even
    lines = inner == ord("\n")
    first, rows = int(np.argmax(lines)), int(np.count_nonzero(lines))
    lines |= inner == ord(delimiter)
    edges = np.flatnonzero(lines)
    fields = int(np.searchsorted(edges, first)) + 1
    if len(edges) % fields:
        return None
    edges += shift
    ends = edges.reshape(-1, fields).T.copy()  # a column lies together
    if rows != ends.shape[1] or (letters[ends[-1]] != ord("\n")).any():
        return None
    begins = np.empty_like(ends)
    begins[0, 0] = shift
    np.add(ends[-1, :-1], 1, out=begins[0, 1:])
    np.add(ends[:-1], 1, out=begins[1:])
    return Block(letters, tuple(begins), tuple(ends), rows)


def _even(letters: NDArray[np.uint8], inner: NDArray[np.uint8], delimiter: str) -> Block | None:
    """Return a block whose lines are all alike in length and in the places of their separators; else None."""
    width = int(np.argmax(inner[:LONGEST_LINE] == ord("\n"))) + 1
    rows, left = divmod(len(inner), width)
    if left:
        return None
    table = inner.reshape(rows, width)
    at = [*np.flatnonzero(table[0, :-1] == ord(delimiter)).tolist(), width - 1]
    if not (table[:, at] == table[0, at]).all():
        return None
    if np.count_nonzero(inner == ord("\n")) != rows or np.count_nonzero(inner == ord(delimiter)) != rows * (
        len(at) - 1
    ):
        return None
    ends = [place + 2 * WORD for place in at]
    begins = [2 * WORD, *(place + 1 for place in ends[:-1])]
    return Block(
        letters,
        tuple(Even(place, width, rows) for place in begins),
        tuple(Even(place, width, rows) for place in ends),
        rows,
    )


def block_of_cells(cells: Bytes, point: str = ".") -> Block:
    """Return cells as a block of one column.

    Parameters
    ----------
    cells : ndarray of bytes
        Padded with nulls.
    point : str
        The decimal sign; put a point in its place.

    Examples
    --------
    >>> block_of_cells(np.array([b"0,5", b"-12,25"]), ",").numbers(0).tolist()
    [0.5, -12.25]
    """
    width, rows = cells.dtype.itemsize, len(cells)
    letters = np.zeros(rows * width + 4 * WORD, dtype=np.uint8)
    inner = letters[2 * WORD : -2 * WORD]
    inner[:] = np.ascontiguousarray(cells).view(np.uint8).reshape(-1)
    if point != ".":
        inner[inner == ord(point)] = ord(".")
    begins = 2 * WORD + width * np.arange(rows, dtype=np.int64)
    return Block(letters, (begins,), (begins + np.strings.str_len(cells),), rows)


def whole_numbers(cells: Bytes) -> Ints | None:
    """Return cells of digits, all of one length of 8 to 16, as numbers; None where they are not.

    Examples
    --------
    >>> whole_numbers(np.array([b"1735689600", b"1735690500"])).tolist(), whole_numbers(np.array([b"1735689600.5"]))
    ([1735689600, 1735690500], None)
    """
    widths = np.strings.str_len(cells)
    size = int(widths[0]) if len(cells) else 0
    if not WORD <= size <= 2 * WORD or not bool((widths == size).all()):
        return None
    padded = np.ascontiguousarray(cells.astype(f"S{2 * WORD}")).view(np.uint64).reshape(-1, 2)
    high, low = padded[:, 0].copy(), padded[:, 1] << np.uint64(8 * (2 * WORD - size)) if size > WORD else None
    if not _are_digits(high).all():
        return None
    if low is None:
        return _value(high)
    low = _filled(low, size - WORD)
    return _value(high) * 10 ** (size - WORD) + _value(low) if _are_digits(low).all() else None
