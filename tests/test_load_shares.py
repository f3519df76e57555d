"""What the loads likely used adds up to the bills, less what the causes likely add."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from reconcile.answer import reconcile
from reconcile.grounds.load_shares import OF_THE_LIST
from reconcile.read import read_house
from reconcile.result import Reconciliation

SAMPLES = Path(__file__).parent.parent / "sample_bills"


def left(answer: Reconciliation) -> float:
    """Billed energy of the judged bills [kWh] less what the causes are expected to add to them."""
    judged = [i for i, row in enumerate(answer.rows) if row.flag != "not-judged" and row.billed_kwh is not None]
    billed = sum(answer.rows[i].billed_kwh or 0.0 for i in judged)
    causes = [cause for cause in answer.causes if cause.code not in OF_THE_LIST and cause.pattern_kwh]
    return billed - sum(cause.probability * cause.pattern_kwh[i] for cause in causes for i in judged)


@pytest.mark.parametrize("times", [0.5, 1.0, 2.5])
@pytest.mark.parametrize("sample", ["all_well", "cold_winter", "fast_meter", "new_load_in_may"])
def test_the_loads_add_up_to_the_bills_less_the_causes(sample: str, times: float) -> None:
    """Also where the list is far too short or too long: what the bills say of the loads is what was billed."""
    house = read_house(SAMPLES / sample)
    loads = tuple(replace(load, watts=times * load.watts) if load.watts else load for load in house.loads)
    answer = reconcile(replace(house, loads=loads))
    shares = answer.loads
    assert np.isclose(sum(share.reconciled_kwh for share in shares), left(answer), rtol=1e-6)
    assert all(share.low_kwh <= share.reconciled_kwh <= share.high_kwh for share in shares)


def test_what_a_fast_meter_adds_is_not_put_on_the_water_heater() -> None:
    """The sample's meter is fast by a quarter from March on: its list is right, and stays so."""
    answer = reconcile(read_house(SAMPLES / "fast_meter_checked"))
    heater = next(share for share in answer.loads if share.load == "Water heater")
    assert abs(heater.reconciled_kwh / heater.expected_kwh - 1.0) < 0.1
