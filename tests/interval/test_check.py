"""The whole answer, written to its files, for houses whose interval data and bills do not cover one another."""

import json
from dataclasses import replace

import pytest
from interval_houses import made

import reconcile
from reconcile.report.save import save


def checked(house, tmp_path):
    save(reconcile.reconcile(house), tmp_path)
    return json.loads((tmp_path / "result.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("scale", [1.0, 0.0])
def test_bills_outside_the_data_and_data_of_zero_end_in_an_answer(tmp_path, scale):
    house, _ = made()
    late = house.interval.starts[24 * 70 :], house.interval.kwh[24 * 70 :] * scale
    said = checked(replace(house, interval=replace(house.interval, starts=late[0], kwh=late[1])), tmp_path)
    assert said["interval"]["tie_out"][0]["difference_percent"] is None


def test_a_negative_bill_of_a_generating_house_ends_in_an_answer(tmp_path):
    house, facts = made()
    kwh = [float(x) for x in facts.billed_kwh]
    kwh[3] = -kwh[3]
    bills = tuple(replace(bill, kwh=k) for bill, k in zip(house.bills, kwh, strict=True))
    said = checked(replace(house, bills=bills, generation=True), tmp_path)
    assert [f["periods"] for f in said["findings"] if f["code"] == "interval-mismatch"] == [[3]]
