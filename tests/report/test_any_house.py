"""Whatever house the readers would let through, every rendering stands."""

from __future__ import annotations

import json
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings

from reconcile.answer import reconcile
from reconcile.errors import InputError
from reconcile.house import Bill, House, Load
from reconcile.report.pages.html import render
from reconcile.report.screens.terminal import terminal_text
from reconcile.report.workbooks.answer_workbook import workbook_bytes
from tests import strategies


def render_all(house: House) -> str:
    result = reconcile(house)
    json.dumps(result.to_dict(), allow_nan=False)
    assert workbook_bytes(result).startswith(b"PK")
    assert max(len(line) for line in terminal_text(result).splitlines()) <= 100
    return render(result)


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(strategies.houses())
def test_any_house_is_rendered(house: House) -> None:
    assert render_all(house).rstrip().endswith("</html>")


def bills(*rows: tuple[int, int, float | None]) -> tuple[Bill, ...]:
    first = date(2024, 1, 1)
    return tuple(
        Bill(
            first + timedelta(days=a),
            first + timedelta(days=z),
            kwh,
            None if kwh is None else Decimal(f"{0.15 * kwh:.2f}"),
        )
        for a, z, kwh in rows
    )


@pytest.mark.parametrize(
    "rows",
    [
        ((0, 30, 500.0),),
        ((0, 30, 0.0), (30, 61, 0.0), (61, 92, 0.0), (92, 120, 0.0)),
        ((0, 30, 500.0), (0, 30, 500.0), (20, 61, 700.0), (95, 120, 300.0), (120, 121, 9.0), (121, 260, 2000.0)),
        ((0, 30, 500.0), (30, 61, 0.0), (61, 92, -800.0), (92, 120, 520.0), (120, 150, 480.0)),
        tuple((60 * i, 60 * i + 60, 900.0 + 7 * (i % 3)) for i in range(30)),
        tuple((30 * i, 30 * i + 30, 6e4) for i in range(12)),
        tuple((7 * i, 7 * i + 7, 0.4) for i in range(150)),
    ],
    ids=["one", "nothing", "tangled", "negative", "bimonthly", "large", "weekly"],
)
@pytest.mark.parametrize("listed", [0, 2])
def test_odd_bills_are_rendered(rows: tuple[tuple[int, int, float | None], ...], listed: int) -> None:
    loads = (
        Load("Refrigerator", watts=150.0, share_on=0.4, follows="always"),
        Load("Lights", watts=90.0, run_hours=4.0),
    )
    makes = any(kwh < 0.0 for *_, kwh in rows if kwh is not None)
    house = House("Odd", bills(*rows), loads=loads[:listed], generation=makes)
    assert render_all(house).rstrip().endswith("</html>")


@pytest.mark.parametrize("kwh", [None, -800.0, 9e5], ids=["unknown", "negative", "large"])
def test_bills_that_cannot_be_are_refused_before_any_rendering(kwh: float | None) -> None:
    with pytest.raises(InputError, match="row 2, column kwh"):
        render_all(House("Odd", bills((0, 30, 500.0), (30, 61, kwh))))
