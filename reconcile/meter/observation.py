"""What site readings say of the house, as observations of the model that weighs the bills."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal


@dataclass(frozen=True, slots=True)
class Observation:
    """One site reading, reduced to a number with its doubt.

    Attributes
    ----------
    kind : {'quiet', 'main-off', 'registration'}
        Watts of the round-the-clock loads there are; watts the meter counts with the main off; the meter's
        registration as a ratio (1.0 is right, above is fast).
    value : float
        [W] or ratio. Where ``at_most`` is set, the reading only proves that the truth is at most this.
    standard_uncertainty : float
        [W] or ratio.
    at_most : bool
    on : tuple of str
        Loads known to have been on during a quiet reading.
    day : date or None
        None is taken as after the last bill.
    text : str
        The reading in one plain sentence, with its figures.
    """

    kind: Literal["quiet", "main-off", "registration"]
    value: float
    standard_uncertainty: float
    at_most: bool = False
    on: tuple[str, ...] = ()
    day: date | None = None
    text: str = ""
