"""What the parts of the energy are called that have prices of their own: by the hour, the season or the step."""

from __future__ import annotations

import re
from collections.abc import Collection

_REST = (
    *("off peak", "super off peak", "night", "nuit", "nacht", "heures creuses", "hc", "niedertarif", "nt"),
    *("valle", "dal", "laag"),
)
"""Parts that take what the others leave: with one of them the parts are the whole."""
_OTHERS = (
    *("peak", "on peak", "mid peak", "part peak", "partial peak", "semi peak", "super peak", "critical peak"),
    *("shoulder", "jour", "heures pleines", "hp", "hochtarif", "ht", "punta", "llano", "normaal", "piek", "hoog"),
)
ANYWHERE = (*_REST, *_OTHERS)
"""Words that name a part wherever they stand."""
_REST_BESIDE, _OTHERS_BESIDE = (
    ("low", "economy", "f3", "winter"),
    (
        *("day", "tag", "evening", "weekend", "weekday", "normal", "high", "summer", "f1", "f2"),
        *("general use", "controlled load", "anytime", "household"),
    ),
)
"""Words that do so only as a bill's own, beside a unit or each other."""
ALSO_OTHER = ("day", "tag", "jour", "low", "high", "normal", "dal", "laag", "hoog")
"""Words that mean something else as the whole name of a column."""

_JOINED = {word.replace(" ", "") for word in (*ANYWHERE, *_REST_BESIDE, *_OTHERS_BESIDE)}
_JOINED_REST = {word.replace(" ", "") for word in (*_REST, *_REST_BESIDE)}
_STEP = re.compile(
    r"(?:tier|block|step|band|level)[1-9]|[1-9](?:st|nd|rd|th)(?:tier|block|step)"
    r"|first\d+|(?:over|above)\d+|remaining|remainder"
)
TOTALS = ("total", "all", "sum", "totals", "totalusage", "totalkwh")
"""What the sum of the parts is called."""


def is_part(name: str) -> bool:
    """Whether a word, small and without spaces, names a part of the energy by itself.

    >>> is_part("offpeak"), is_part("tier2"), is_part("usage")
    (True, True, False)
    """
    return name in _JOINED or _STEP.fullmatch(name) is not None


def makes_a_whole(parts: Collection[str]) -> bool:
    """Whether parts are all there are: what is left is among them, or they are steps counted from 1.

    >>> whole = makes_a_whole
    >>> whole(["peak", "offpeak"]), whole(["peak", "shoulder"]), whole(["tier1", "tier2"]), whole(["tier2"])
    (True, False, True, False)
    >>> whole(["first500", "over500"]), whole(["first500", "over800"]), whole(["household", "controlledload"])
    (True, False, True)
    """
    if "controlledload" in parts and {"household", "generaluse", "anytime"} & {*parts}:
        return True
    first = [part[5:] for part in parts if part.startswith("first")]
    if len(first) == 1 and len(parts) == 2:
        return any(part in (f"over{first[0]}", f"above{first[0]}", "remaining", "remainder") for part in parts)
    steps = sorted(int(found[0]) for part in parts if (found := re.search(r"[1-9]", part)) is not None)
    return not _JOINED_REST.isdisjoint(parts) or (len(steps) == len(parts) and steps == [*range(1, len(parts) + 1)])
