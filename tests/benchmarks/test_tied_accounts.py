"""A small run of the bench of simulated accounts."""

import numpy as np
import pytest
from tied_accounts import KINDS, VARYING, account, judged


@pytest.mark.parametrize("kind", KINDS)
def test_honest_accounts_tie_and_wrong_bills_are_found(kind):
    rng = np.random.default_rng([11, KINDS.index(kind)])
    ties, sent, caught = [], 0, []
    for _ in range(12):
        honest, _, reported = judged(account(rng, kind))
        ties += honest
        sent += reported > 0
    for wrong_by in (0.03, -0.03) * 6:
        caught.append(judged(account(rng, kind, wrong_by))[1])
    assert np.mean(ties) >= 0.98
    assert sent <= 1
    assert sum(caught) >= 11


def test_a_reading_an_hour_from_the_usual_sends_nobody_to_the_billing_desk():
    """One of 120 accounts whose readings wander by a quarter of an hour or so stood a watt-hour over its limit."""
    honest, _, reported = judged(account(np.random.default_rng([777, 32]), "wandering a little"))
    assert all(honest)
    assert not reported


@pytest.mark.parametrize("kind", VARYING)
def test_a_new_hour_every_time_contradicts_no_honest_bill_and_hides_no_gross_error(kind):
    rng = np.random.default_rng([12, VARYING.index(kind)])
    made = [judged(account(rng, kind)) for _ in range(8)]
    assert all(tie for honest, *_ in made for tie in honest)
    assert not any(reported for *_, reported in made)
    assert sum(bool(judged(account(rng, kind, 0.06))[1]) for _ in range(8)) >= 7
