"""Rows that take an earlier bill back, the currency over a column, and degrees over another."""

from __future__ import annotations

from itertools import pairwise

import pytest

from reconcile.errors import InputError
from reconcile.paper.examine import examine
from reconcile.read import read_house

HEAD = "start,end,kwh,type\n"
ROWS = [
    f"2023-{m:02d}-10,{2023 + m // 12}-{m % 12 + 1:02d}-10,{kwh},regular"
    for m, kwh in enumerate([812, 1204, 977, 851, 768, 640, 1590, 822, 910], 1)
]


def house(tmp_path, text):
    (tmp_path / "bills.csv").write_text(text, encoding="utf-8")
    return read_house(tmp_path)


@pytest.mark.parametrize("mark", ["cancelled", "regular"])
def test_a_row_with_the_sign_turned_cancels_the_bill_it_takes_back(tmp_path, mark):
    back = ["2023-07-10,2023-08-10,-1590," + mark, "2023-07-10,2023-08-10,590,corrected"]
    read = house(tmp_path, HEAD + "\n".join([*ROWS, *back]) + "\n")
    assert len(read.bills) == len(ROWS) + 1
    assert {b.kwh: b.bill_type for b in read.bills if b.start.month == 7} == {1590.0: "cancelled", 590.0: "corrected"}
    assert any("row 11 takes back the bill of row 8" in told for told in read.notices)


def test_less_than_a_bill_taken_back_is_still_asked_about(tmp_path):
    with pytest.raises(InputError, match="below zero"):
        house(tmp_path, HEAD + "\n".join([*ROWS, "2023-07-10,2023-08-10,-1490,cancelled"]) + "\n")


def test_kwh_below_zero_that_the_readings_show_are_examined_and_not_refused(tmp_path):
    """A display with a dead digit runs backwards: the bills say what the readings say, and no sign was mistyped."""
    readings = [43333, 43619, 43919, 44995, 44914, 44994, 45966, 46242]
    rows = [
        f"2024-{m:02d}-07,2024-{m + 1:02d}-07,{closes - opens},{opens},{closes}"
        for m, (opens, closes) in enumerate(pairwise(readings), 2)
    ]
    head = "start,end,kwh,reading_start,reading_end\n"
    read = house(tmp_path, head + "\n".join(rows) + "\n")
    assert "reading-slip/backwards" in [finding.key for finding in examine(read).findings]
    with pytest.raises(InputError, match="below zero"):
        house(tmp_path, head + "\n".join(rows).replace("-81,44995,44914", "-81,44914,44995") + "\n")


@pytest.mark.parametrize(
    ("name", "currency"),
    [
        ("Amount (Rs)", "INR"),
        ("Amount (Rs.)", "INR"),
        ("Amount (₹)", "INR"),
        ("Amount (€)", "EUR"),
        ("Amount ($)", "USD"),
    ],
)
def test_the_sign_over_the_charges_tells_the_currency(tmp_path, name, currency):
    rows = [f"{row.rsplit(',', 1)[0]},{4000 + 9 * k}.00" for k, row in enumerate(ROWS)]
    assert house(tmp_path, f"start,end,kwh,{name}\n" + "\n".join(rows) + "\n").currency == currency


def test_degrees_under_a_second_header_are_temperatures(tmp_path):
    rows = [f"{row.rsplit(',', 1)[0]},{131 + k}.50,{40 + 3 * k}" for k, row in enumerate(ROWS)]
    head = "Service,Service,Electric,Electric,Weather\nfrom,to,kWh,$,avg °F\n"
    read = house(tmp_path, head + "\n".join(rows) + "\n")
    assert read.bills[0].mean_temperature_c == pytest.approx((40 - 32) / 1.8, abs=0.01)
