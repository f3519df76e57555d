"""What may be asked of the utility, once for the step and once for the letter, and of the household."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Request:
    """One thing asked of the utility's billing desk: the step says it to the household, the letter to the desk."""

    step: str
    letter: str


REQUESTS: dict[str, Request] = {
    "interval-bill": Request(
        "Send the utility's billing desk both figures and ask which register readings the bill rests on.",
        "Compare the billed kWh with the interval data of the same days, and correct the bill if its "
        "readings are wrong.",
    ),
    "interval-ratio": Request(
        "Ask the utility which of the two figures is this service's use: which multiplier the bill applies, and which "
        "meter and channel the interval data belong to.",
        "Tell me the meter multiplier and any loss factor the bills apply, and which meter and channel the interval "
        "data belong to; correct the bills if they do not follow from this service's own meter.",
    ),
    "interval-moved": Request(
        "Ask the billing desk for the reading between the two bills, and whether the two bills cost the same with the "
        "right one.",
        "Compare the reading between these two bills with the interval data, and correct both if the prices differ.",
    ),
}
"""Requests by key; findings and decisions name them, the steps and the letter say them, no more and no less."""

HOUSEHOLD: dict[str, str] = {
    "interval-typed": "Look first whether the bill's kWh were typed here as they are printed.",
    "interval-file": "Look in the interval file for its unit, its channel and its meter number, and on the meter and "
    "the bill for a multiplier.",
}
"""What a finding asks of the household itself, by key."""
