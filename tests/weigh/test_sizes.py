"""Sizes that are stated: of bills stepped by a known amount, alone and beside a reading on site."""

from dataclasses import replace

import pytest
from weigh_houses import house

import reconcile
from reconcile.costs import COSTS
from reconcile.house import House, Meter
from reconcile.meter.observation import Observation
from reconcile.paper import examine
from reconcile.weigh.causes import name_causes
from reconcile.weigh.model import build
from reconcile.weigh.weighing import weigh_house


def stepped(percent: float, onset: int = 9) -> House:
    """Bills of exactly what the list expects, but for a meter that errs from an exchange on."""
    home = house()
    expected = build(home, examine(home)).mean
    bills = tuple(
        replace(
            bill,
            kwh=float(kwh) * (1.0 + (percent / 100.0 if i >= onset else 0.0)),
            meter="new" if i >= onset else "old",
        )
        for i, (bill, kwh) in enumerate(zip(home.bills, expected, strict=True))
    )
    return replace(home, bills=bills, meters=(Meter(number="old"), Meter(number="new")))


@pytest.mark.parametrize("percent", [20, 30, 50, 100, -30, -50])
def test_a_step_of_all_use_is_stated_as_the_energy_added_over_the_rest(percent):
    code = "meter-step" if percent > 0 else "meter-low"
    cause = next(c for c in reconcile.reconcile(stepped(percent)).causes if c.code == code)
    assert abs(cause.size - percent) < 1.0
    assert cause.size_low < percent < cause.size_high
    # a meter is known to a part of what it counts, so points grow with the size: 8 at +20 %, 13 at +100 %
    assert cause.size_high - cause.size_low < 0.07 * (100.0 + percent)
    added = sum(cause.pattern_kwh[9:])
    rest = sum(b.kwh for b in stepped(percent).bills[9:]) - added
    assert 100.0 * added / rest == pytest.approx(percent, abs=1.0)


def test_a_test_and_the_bills_that_agree_give_their_common_size_and_nothing_else():
    home = stepped(50)
    facts = examine(home)
    weighing = weigh_house(home, facts, (Observation("registration", 1.5, 0.0115),))
    causes = {cause.code: cause for cause in name_causes(weighing, COSTS.open_at)}
    assert causes["meter-step"].probability > 0.99
    assert abs(causes["meter-step"].size - 50.0) < 1.0
    assert all(c.probability < 0.05 for code, c in causes.items() if code != "meter-step")
