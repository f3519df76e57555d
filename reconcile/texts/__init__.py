"""All prose of the answer, keyed by code: sentences that are given figures and a voice, and decide nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from reconcile.say import Voice

Figures = Mapping[str, Any]
Sentence = str | Callable[[Voice, Figures], str]
"""A template for :meth:`reconcile.say.Voice.fill`, or, where the figures decide between words, a function."""


def tell(voice: Voice, catalogue: Mapping[str, Sentence], key: str, figures: Figures) -> str:
    """Return the sentence of a catalogue under a key, filled.

    Raises
    ------
    KeyError
        Where the catalogue has no such sentence, or the sentence names a figure that is not given.

    Examples
    --------
    >>> tell(Voice(), {"gap": "{days} days without a bill"}, "gap", {"days": 3})
    '3 days without a bill'
    """
    sentence = catalogue[key]
    return voice.fill(sentence, figures) if isinstance(sentence, str) else voice.of_readings(sentence(voice, figures))
