"""No load takes more than was billed: what a few high bills hold is not read into all that follow."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import accumulate, pairwise

from reconcile import reconcile
from reconcile.house import Bill, House

DAYS = [31, 31, 30, 28, 29, 33, 32, 30, 29, 30, 30, 30, 33, 30, 33, 33, 31, 31, 28, 30, 28, 28, 33, 32]
KWH = [
    562,
    839,
    1398,
    1809,
    2002,
    2564,
    2342,
    1870,
    1037,
    650,
    475,
    480,
    556,
    732,
    1062,
    1999,
    2065,
    4120,
    3638,
    3347,
    2478,
    864,
    1001,
    778,
]
"""From the end of July: an invented home whose heating took twice as much in its second winter."""


def test_no_load_that_lasts_is_larger_than_the_least_bill_that_holds_it() -> None:
    opens = list(accumulate(DAYS, lambda day, days: day + timedelta(days=days), initial=date(2022, 7, 30)))
    bills = tuple(Bill(a, b, kwh=float(kwh)) for (a, b), kwh in zip(pairwise(opens), KWH, strict=True))
    said = reconcile(House(name="winter", bills=bills))
    loads = [cause for cause in said.causes if cause.code in ("constant-load", "timed-load")]
    assert loads
    for load in loads:
        parts = [kwh / billed for kwh, billed in zip(load.pattern_kwh, KWH, strict=True)]
        assert load.probability < 0.05 or max(parts) <= 1.05, load.text
