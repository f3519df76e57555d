"""What is said of instruments whose measurement category does not fit a panel, by code."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

UNFIT: dict[str, str] = {
    "unknown": (
        "The measurement category of {what} is not written down: read it beside its jacks. Without CAT III at the "
        "panel, and CAT IV at the main lugs, it must not be used there."
    ),
    "below-iii": "{What} is below CAT III: it must not be used in a panel at all.",
    "not-iv": "{What} is CAT III: not for the main lugs or the service wires (CAT IV).",
    "volts": "{What} is rated {volts:.0f} V: at least 300 V is needed here.",
}
"""By the codes of :class:`reconcile.meter.instruments.Unfit`."""


def category_warnings(found: Iterable[Any]) -> tuple[str, ...]:
    """Say every misfit in a sentence."""
    return tuple(
        UNFIT[one.code].format(
            what=f"the instrument for {one.quantity}", What=f"The instrument for {one.quantity}", volts=one.volts
        )
        for one in found
    )
