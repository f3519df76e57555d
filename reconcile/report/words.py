"""Texts made to fit: kept beside their units where a line breaks, shortened where room ends."""

from __future__ import annotations

import re

from reconcile.say import clean

__all__ = ["clean", "glued", "shorten"]

_UNIT = re.compile(r" (?:(?<=\d )(?=(?:%|±|kWh|kW|W)(?![A-Za-z]))|(?<=± )(?=\d))")


def glued(text: str) -> str:
    r"""Keep numbers beside their units where a line breaks, by spaces that do not break.

    Examples
    --------
    >>> glued("690 ± 80 kWh, about 12 %").count("\N{NO-BREAK SPACE}")
    4
    """
    return _UNIT.sub("\N{NO-BREAK SPACE}", text)


def shorten(text: str, most: int) -> str:
    """Return ``text`` in at most ``most`` letters, the cut marked.

    Examples
    --------
    >>> shorten("A very long name for a freezer", 12)
    'A very long…'
    """
    text = " ".join(str(clean(text)).split())
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
