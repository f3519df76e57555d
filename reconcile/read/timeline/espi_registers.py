"""Which of the readings of one usage point are the house's: energy before power, intervals before registers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reconcile.read.layouts.interval_channels import Assumptions
from reconcile.read.layouts.interval_names import Flow
from reconcile.read.timeline.espi import RUNNING, UNITS, Meter
from reconcile.read.timeline.row_registers import added
from reconcile.read.timeline.series import Series

TARIFF = "tou"
"""Key of a reading type that names the price period; 0 or none is the whole."""

QUALIFIER, EXTREMES = "dataQualifier", (8, 9, 16, 17)
"""Key of a reading type that says what of an interval it gives, and those that give its largest or smallest power (from
memory): no energy follows from them."""
PHASES = (128, 129, 64, 65, 32, 33, 512, 513, 256, 257)
"""Codes of a single phase or leg, without and with its neutral (NAESB REQ.21, from memory)."""


def unit_of_meter(meter: Meter) -> str | None:
    """Return the unit: Wh where the feed has no type of reading at all."""
    return UNITS.get(meter.kind["uom"]) if "uom" in meter.kind else "Wh"


def is_running_meter(meter: Meter) -> bool:
    """Whether its readings are those of a register that runs on."""
    return meter.kind.get("accumulationBehaviour", 4) in RUNNING


def house_meters(meters: Sequence[Meter], assumed: Assumptions) -> list[Meter]:
    """Return the meters to read.

    Parameters
    ----------
    meters : sequence of Meter
        Of one usage point.
    assumed : Assumptions
        Gathers what is left.
    """
    kept = [meter for meter in meters if unit_of_meter(meter) is not None and len(meter.values)]
    kept = [meter for meter in kept if meter.kind.get(QUALIFIER, 0) not in EXTREMES]
    kept = _prefer(kept, [m for m in kept if unit_of_meter(m) == "Wh"], "power", assumed)
    kept = _prefer(kept, [m for m in kept if unit_of_meter(m) == "Wh" and not is_running_meter(m)], "register", assumed)
    flows: set[Flow | None] = {meter.flow for meter in kept if unit_of_meter(meter) != "V"}
    if "delivered" in flows and flows & {"net", None}:
        assumed.add("espi-beside-net")
        kept = [meter for meter in kept if meter.flow in ("delivered", "received") or unit_of_meter(meter) == "V"]
    return kept


def _prefer(meters: list[Meter], wanted: list[Meter], left: str, assumed: Assumptions) -> list[Meter]:
    """Keep the wanted ones, and others only of a flow that none of them has."""
    flows = {meter.flow for meter in wanted}
    volts = [meter for meter in meters if unit_of_meter(meter) == "V"]
    others = [meter for meter in meters if meter not in wanted and meter not in volts and meter.flow in flows]
    if others:
        assumed.add(f"espi-beside-{left}")
    return [meter for meter in meters if meter not in others]


def whole_series(read: Sequence[tuple[Meter, Series]], assumed: Assumptions) -> list[Series]:
    """Return the series with the price periods, or phases, of one flow added, where no whole stands beside them."""
    groups: dict[tuple[object, ...], list[tuple[Meter, Series]]] = {}
    for meter, series in read:
        key = (series.unit, meter.flow, is_running_meter(meter), int(np.median(meter.durations)))
        groups.setdefault(key, []).append((meter, series))
    out = []
    for group in groups.values():
        parts: dict[int, list[Series]] = {}
        phases = {_phase(meter) for meter, _ in group} - {0}
        for meter, series in group:
            parts.setdefault(_phase(meter) if phases else meter.kind.get(TARIFF, 0), []).append(series)
        if len(parts) == 1 or any(len(own) > 1 for own in parts.values()):
            out += [series for _, series in group]
        elif 0 in parts:
            assumed.add("espi-beside-phases" if phases else "espi-beside-parts")
            out += parts[0]
        elif phases:
            every = [own[0] for own in parts.values()]
            assumed.add("espi-phases", count=len(every))
            out.append(added(every[0], every[1:], "phase"))
        else:
            every = [own[0] for own in parts.values()]
            assumed.add("espi-parts", count=len(every))
            out.append(added(every[0], every[1:], "price"))
    return out


def _phase(meter: Meter) -> int:
    phase = meter.kind.get("phase", 0)
    return phase if phase in PHASES else 0
