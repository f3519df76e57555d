"""Factors on the odds of causes, as a caller gives them: held against the table of causes."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from typing import Any

from reconcile.kinds import KINDS


def checked_odds(odds: Any) -> Mapping[str, float]:
    """Return factors on the prior odds of causes, by their codes; none where nothing was given.

    Raises
    ------
    ValueError
        Naming each wrong code or factor, and every code there is.

    Examples
    --------
    >>> checked_odds({"meter-step": 3})
    {'meter-step': 3.0}
    >>> checked_odds({"meterstep": 3})  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    ValueError: odds: 'meterstep' is no code of a cause; did you mean 'meter-step'? The codes are ...
    """
    if odds is None:
        return {}
    if not isinstance(odds, Mapping):
        raise ValueError(f"odds are a mapping of codes to factors, as {{'meter-step': 3.0}}; this is {odds!r}")
    known = list(dict.fromkeys(kind.code for kind in KINDS.values()))
    wrong = []
    for code, factor in odds.items():
        if code == "none":
            wrong.append("'none' has no odds of its own: it is what the others leave")
        elif code not in known:
            near = difflib.get_close_matches(str(code), known, n=1)
            wrong.append(f"{code!r} is no code of a cause" + (f"; did you mean {near[0]!r}?" if near else ""))
        elif isinstance(factor, bool) or not _is_factor(factor):
            wrong.append(f"{code!r} takes a factor above 0, and got {factor!r}")
    if wrong:
        end = "" if wrong[-1].endswith("?") else "."
        raise ValueError(f"odds: {'; '.join(wrong)}{end} The codes are {', '.join(known)}.")
    return {str(code): float(factor) for code, factor in odds.items()}


def _is_factor(factor: Any) -> bool:
    if isinstance(factor, str):
        return False
    try:
        return 0.0 < float(factor) < math.inf
    except (TypeError, ValueError, OverflowError):
        return False
