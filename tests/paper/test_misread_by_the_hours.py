"""An actual reading that the hours contradict is told as that, once, and with the reading that the hours give."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from speech import page_text

import reconcile
from reconcile.house import House
from reconcile.report.pages.letter import letter_text
from reconcile.report.views.first_view import figures_beside
from reconcile.texts.findings import finding_text

SAMPLES = Path(__file__).parents[2] / "sample_bills"
MOVED_KWH = 500.0


def misread(house: House, a: int, kwh: float, read_type: str = "actual") -> House:
    """The reading between bill a and the next is so much too high."""
    bills = [replace(bill, amount=None) for bill in house.bills]
    first, second = bills[a], bills[a + 1]
    reading = (first.reading_end or 0.0) + kwh
    bills[a] = replace(first, kwh=(first.kwh or 0.0) + kwh, reading_end=reading, read_type=read_type)
    bills[a + 1] = replace(second, kwh=(second.kwh or 0.0) - kwh, reading_start=reading)
    return replace(house, bills=tuple(bills), tariffs=())


@pytest.fixture(scope="module")
def hourly() -> House:
    house = reconcile.read_house(SAMPLES / "hourly_data")
    assert all(bill.reading_end is not None for bill in house.bills)
    return house


@pytest.fixture(scope="module")
def result(hourly: House) -> reconcile.Reconciliation:
    return reconcile.reconcile(misread(hourly, 11, MOVED_KWH))


def test_no_estimate_is_spoken_of_where_every_reading_is_actual(result: reconcile.Reconciliation) -> None:
    told = " ".join(finding_text(f, result.voice) for f in result.findings)
    assert "estimated reading" not in told
    assert "estimated reading" not in letter_text(result)


def test_it_is_one_finding_with_the_reading_that_the_hours_give(result: reconcile.Reconciliation) -> None:
    (finding,) = (f for f in result.findings if f.settles)
    assert (finding.key, finding.periods) == ("interval-mismatch/moved", (11, 12))
    true = (result.house.bills[11].reading_end or 0.0) - MOVED_KWH
    assert finding.figures["fits"] == pytest.approx(true, abs=2.0)
    assert f"about {true:.0f} instead of" in finding_text(finding, result.voice).replace(",", "")


def test_no_meter_and_no_load_is_accused(result: reconcile.Reconciliation, hourly: House) -> None:
    sound = {c.code: c.probability for c in reconcile.reconcile(replace(hourly, tariffs=())).causes}
    for cause in result.causes:
        if cause.code != "none":
            assert cause.probability <= sound.get(cause.code, 0.0) + 0.1, cause.code


def test_an_estimate_is_told_as_one(hourly: House) -> None:
    result = reconcile.reconcile(misread(hourly, 11, MOVED_KWH, "estimated"))
    keys = [f.key for f in result.findings]
    assert "interval-mismatch/estimate" in keys


def test_its_bills_are_not_judged_by_kwh_that_were_not_used(result: reconcile.Reconciliation) -> None:
    rows = result.rows
    assert [i for i, row in enumerate(rows) if row.flag == "not-judged"] == [11, 12]
    assert all("reading" in (row.why_not_judged or "") for row in rows[11:13])
    assert all(row.usual_low_kwh is None for row in rows[11:13])
    assert f"All {len(rows) - 2} bills judged" in " ".join(result.verdict.reasons)


def test_what_two_bills_share_is_no_money_and_no_calm(result: reconcile.Reconciliation) -> None:
    assert next(f.kwh for f in result.findings if f.settles) == 0.0
    assert "more charged" not in page_text(result)
    beside = [f"{size} {what}" for size, what in figures_beside(result)]
    assert beside[0] == "500 kWh billed on the wrong bill"


def test_two_misread_readings_in_a_row_are_each_put_right(hourly: House) -> None:
    house = misread(misread(hourly, 10, 180.0), 11, 340.0)
    found = [f for f in reconcile.reconcile(house).findings if f.code == "interval-mismatch"]
    assert [f.periods for f in found] == [(10, 11), (11, 12)]
    for finding, a in zip(found, (10, 11), strict=True):
        assert finding.figures["fits"] == pytest.approx(hourly.bills[a].reading_end, abs=3.0)


def test_a_register_run_backwards_is_told_by_the_hours_alone(hourly: House) -> None:
    house = misread(hourly, 11, 1500.0)  # kWh by the readings: so much below nothing is refused as typed
    result = reconcile.reconcile(replace(house, bills=tuple(replace(bill, kwh=None) for bill in house.bills)))
    assert [f.key for f in result.findings if f.asks] == ["interval-mismatch/moved"]
    assert "estimated reading" not in letter_text(result)


def test_no_bill_is_called_as_usual_where_either_of_two_readings_may_be_wrong(hourly: House) -> None:
    house = replace(misread(hourly, 11, 1500.0), interval=None)
    result = reconcile.reconcile(replace(house, bills=tuple(replace(bill, kwh=None) for bill in house.bills)))
    slips = [replace(f, figures={**f.figures, "moved": None}) for f in result.findings if f.code == "reading-slip"]
    assert [f.case for f in slips] == ["backwards"]
    assert "No bill" not in str(figures_beside(replace(result, findings=tuple(slips))))
