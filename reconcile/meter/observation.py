"""What site readings say of the house, as observations of the model that weighs the bills."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from datetime import date
from typing import Any, Literal

from reconcile.records import dataclass
from reconcile.say import Voice
from reconcile.texts.field import field_test as words

PLAIN = Voice()


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
    zone : str or None
        As judged, of a registration and of a reading with the main off: nobody judges either again from its value.
    figures : mapping
        What its sentence needs besides.
    chance : float
        Of a registration judged outside its limits: that the meter is so, on the side on which it reads.
    slip : {'', 'run', 'constant'}
        What may be written wrong in a registration far off: one run, or the constant that all runs rest on. It is no
        verdict then, but bills that say the same of the meter bear it out. Empty where readings stand by themselves.
    """

    kind: Literal["quiet", "main-off", "registration"]
    value: float
    standard_uncertainty: float
    at_most: bool = False
    on: tuple[str, ...] = ()
    day: date | None = None
    zone: str | None = None
    figures: Mapping[str, Any] = field(default_factory=dict)
    voice: Voice = PLAIN
    chance: float = 0.0
    slip: Literal["", "run", "constant"] = ""

    @property
    def text(self) -> str:
        """The reading in one plain sentence, with its figures; nothing of one that a test or a finding tells."""
        return "" if self.slip or not self.figures else words.observation(self)
