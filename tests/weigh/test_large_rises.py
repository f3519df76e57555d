"""A rise as large as the use that it acts on."""

from dataclasses import replace

import numpy as np
from weigh_houses import LOADS, house

import reconcile
from reconcile.house import Load


def test_heating_that_takes_much_more_is_told_with_its_size_and_no_meter_for_it():
    """A heat pump on its auxiliary heat alone: a meter was told, as the use beside the rise never settled."""
    made = house(24)
    rng = np.random.default_rng(3)
    later, more = np.arange(24) >= 8, 1.4
    bills = []
    for bill, since in zip(made.bills, later, strict=True):
        cold = np.maximum(19.0 - made.weather.between(bill.start, bill.end), 0.0).sum()
        kwh = (15.0 * bill.days + 1.95 * cold * (1.0 + more * since)) * rng.normal(1.0, 0.02)
        bills.append(replace(bill, kwh=float(round(kwh))))
    loads = (*LOADS[:-1], Load("heat pump", watts=2900.0, follows="heating", source="nameplate"))
    answer = reconcile.reconcile(replace(made, bills=tuple(bills), loads=loads))
    top = answer.causes[0]
    assert (top.code, top.probability > 0.95) == ("heating-rise", True)
    assert top.size_low <= 100.0 * more <= top.size_high
    assert answer.verdict.meter_fast_probability < 0.05
