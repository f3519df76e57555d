"""Regular text divided eight letters at a time: every field as it stands, every number as a parser reads it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reconcile.read.layouts.raw_tables import TextTable, open_text
from reconcile.read.tables.gate import Gate
from reconcile.read.values.plain_blocks import Even, block_of

NUMBERS = st.one_of(
    st.integers(0, 10**15).map(str),
    st.floats(0, 10**6).map(lambda x: f"{x:.4f}"),
    st.floats(0, 100).map(lambda x: f"{x:.3f}"),
    st.floats(0, 100).map(lambda x: f"{x:.1f}"),
    st.sampled_from(["0", "7", "0.5", ".25", "12.", "00012.50", "9999999.5", "12345678.5", "123456789012345"]),
)


@given(rows=st.lists(st.tuples(st.text("abc-: 019", min_size=1, max_size=19), NUMBERS), min_size=1, max_size=30))
def test_fields_and_numbers_come_back(rows: list[tuple[str, str]]) -> None:
    rows = [(text.strip() or "x", number) for text, number in rows]
    block = block_of("".join(f"{text},{number}\n" for text, number in rows).encode(), ",")
    assert block is not None
    assert block.text(0).tolist() == [text.encode() for text, _ in rows]
    assert block.text(1).tolist() == [number.encode() for _, number in rows]
    values = block.numbers(1)
    if values is not None:
        assert values.tolist() == [float(number) for _, number in rows]
    else:  # more than a few end in a point, and are left to the parser
        assert any(number.endswith(".") or len(number) > 15 for _, number in rows)


@pytest.mark.parametrize("odd", ["-1e2", "1e3", "+2.25"])
def test_a_few_odd_numbers_are_read_one_by_one(odd: str) -> None:
    text = "".join(f"a,{n}.5\n" for n in range(200)) + f"a,{odd}\n"
    block = block_of(text.encode(), ",")
    assert block is not None
    values = block.numbers(1)
    assert values is not None
    assert values[-1] == float(odd)
    many = block_of(f"a,{odd}\n".encode() * 20, ",")
    assert many is not None
    assert many.numbers(1) is None


def test_numbers_below_zero_are_plain() -> None:
    block = block_of(b"a,-1.5\n" * 20 + b"a,2.25\nb,-\nc,\nd,-1234567.125\n", ",")
    assert block is not None
    values = block.numbers(1)
    assert values is not None
    assert values[:21].tolist() == [-1.5] * 20 + [2.25]
    assert np.isnan(values[21:23]).all()
    assert values[23] == -1234567.125


def test_lines_of_one_length_give_what_others_give() -> None:
    lines = [f"2025-01-{n % 28 + 1:02d} 00:{n % 60:02d},{n % 7}.{n:04d},-{n % 10}.5" for n in range(300)]
    even = block_of("".join(f"{line}\n" for line in lines).encode(), ",")
    odd = block_of("".join(f"{line}\n" for line in [*lines, "x,1.0,2.00"]).encode(), ",")
    assert even is not None
    assert odd is not None
    assert isinstance(even.begins[0], Even)
    assert not isinstance(odd.begins[0], Even)
    assert even.text(0).tolist() == odd.text(0).tolist()[:-1]  # type: ignore[union-attr]
    for at in (1, 2):
        assert even.numbers(at).tolist() == odd.numbers(at).tolist()[:-1]  # type: ignore[union-attr]
    both = odd.numbers_of([1, 2])
    assert both is not None
    assert [column.tolist() for column in both] == [odd.numbers(at).tolist() for at in (1, 2)]  # type: ignore[union-attr]


@pytest.mark.parametrize("text", [b"ab,1\nc,12\n", b"a,1\nb12\n", b"a,1\n,12\n", b"a,1\nb\n1\n"])
def test_lines_of_one_length_but_other_fields_are_not_even(text: bytes) -> None:
    block = block_of(text, ",")
    assert block is None or not isinstance(block.begins[0], Even)


@pytest.mark.parametrize(
    "cell", ["low", "1.5 kWh", "0x10", "1_0", "nan", "inf", "1..5", "1.5.5", "--1", "/", ":", "1/5"]
)
def test_what_is_no_number_is_left_to_the_parser(cell: str) -> None:
    block = block_of(("a,1.5\n" * 200 + f"a,{cell}\n").encode(), ",")
    assert block is not None
    assert block.numbers(1) is None


def test_an_empty_field_is_no_number() -> None:
    block = block_of(b"a,1.5\nb,\nc,2.25\n", ",")
    assert block is not None
    values = block.numbers(1)
    assert values is not None
    assert values[[0, 2]].tolist() == [1.5, 2.25]
    assert math.isnan(values[1])
    assert block.text(5).tolist() == [b"", b"", b""]


@pytest.mark.parametrize("text", ["a,1\nb\n", "a,1\n\nb,2\n", "a,1\nb,2,3\nc\n", ""])
def test_what_is_not_regular_is_left_to_the_parser(text: str) -> None:
    assert block_of(text.encode(), ",") is None


def test_the_last_line_may_lack_its_end() -> None:
    block = block_of(b"a,1.5\nb,2.5", ",")
    assert block is not None
    assert block.rows == 2
    assert block.numbers(1).tolist() == [1.5, 2.5]  # type: ignore[union-attr]


@pytest.mark.parametrize("odd", [None, "", "x,1.5,2", 'x,"1.5"', "x,-1.5", "x"])
def test_blocks_and_the_parser_give_the_same_rows(odd: str | None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reconcile.read.layouts.raw_tables.BLOCK", 200)
    rows = [f"2025-01-{1 + n % 28:02d} 00:00,{n}.25" for n in range(900)]
    if odd is not None:
        rows[450] = odd
    table = open_text("\n".join(["time,kwh", *rows]).encode(), "a.csv", Gate(), small=0)
    assert isinstance(table, TextTable)
    got = list(table.chunks({0: 16, 2: 0}, [1], 1))
    numbered = np.concatenate([numbers for numbers, _ in got])
    assert numbered.tolist() == list(range(2, 902))
    texts = np.concatenate([columns[0] for _, columns in got]).tolist()
    values = np.concatenate([columns[2] for _, columns in got])
    for at in (0, 1, 449, 451, 899):
        assert texts[at].decode() == rows[at].split(",")[0]
        assert values[at] == at + 0.25
    if odd is not None:
        assert texts[450].decode() == odd.split(",")[0]


@pytest.mark.parametrize("text", ["a,1\n b,2\n", 'a,1\n"b",2\n', "abcdefgh,1\n bcdefgh,2\n", " abcdefghijk,1\nb,2\n"])
def test_a_blank_or_a_quote_before_a_field_is_left_to_the_parser(text: str) -> None:
    block = block_of(text.encode(), ",")
    assert block is not None
    assert block.text(0) is None


def test_a_blank_before_a_number_is_left_to_the_parser() -> None:
    block = block_of(b"a,1.5\nb, 1.5\n", ",")
    assert block is not None
    assert block.numbers(1) is None
