"""Why the bill people ask about is dearer than the one before it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile import money
from reconcile.facts import Finding
from reconcile.house import House
from reconcile.result_parts import Came
from reconcile.say import Voice
from reconcile.texts.money import (
    CLEARLY_DEARER,
    dearest_part,
    dearest_sentence,
    price_borne_out,
    price_rise,
    rise_sentence,
)
from reconcile.weigh.model import Model
from reconcile.weigh.weighed import Weighing

Floats = NDArray[np.float64]


def came(house: House, account: money.Money | None, model: Model, billed_kwh: Floats) -> Came | None:
    """A load of the list that came between the bills compared, where it makes most of what more was used."""
    if account is None or account.bridge is None:
        return None
    after, before = list(account.bridge.to_periods), list(account.bridge.from_periods)
    more = float(billed_kwh[after].sum() - billed_kwh[before].sum())
    began = [
        (float(model.parts[after, j].sum() - model.parts[before, j].sum()), load)
        for j, load in enumerate(house.loads)
        if load.arrives is not None and account.bridge.from_dates[0] < load.arrives < account.bridge.to_dates[1]
    ]
    kwh, load = max(began, key=lambda one: one[0], default=(0.0, None))
    return Came(load, kwh) if load is not None and 2.0 * kwh > more > 0.0 else None


def why_dearer(
    account: money.Money | None,
    weighing: Weighing | None,
    findings: Sequence[Finding],
    voice: Voice,
    arrived: Came | None,
) -> tuple[str, bool]:
    """Why the bill people ask about is dearer than the one before it, and whether the price of a kWh is."""
    rise = price_rise(findings)
    risen = rise_sentence(rise, voice)
    if account is None or account.bridge is None:
        return risen, rise is not None
    weather, made = "weather", account.bridge
    if weighing is not None and weighing.model.weathered and len(made.from_periods) == len(made.to_periods):
        after, before = list(made.to_periods), list(made.from_periods)
        cold, heat = (
            float(kwh[after].sum() - kwh[before].sum()) for kwh in (weighing.shape.heating, weighing.shape.cooling)
        )
        weather = "cold" if cold > 2.0 * abs(heat) else "heat" if heat > 2.0 * abs(cold) else "weather"
    borne_out = price_borne_out(made, rise)
    dearest = dearest_sentence(made, weather, voice, arrived, borne_out=borne_out)
    by_price = borne_out and dearest_part(made) == "price"
    first = rise is not None and (not dearest or rise.figures["part"] >= CLEARLY_DEARER)
    said = (risen, dearest) if by_price or first else (dearest, risen)
    return " ".join(text for text in said if text), by_price or rise is not None  # what is told is asked about
