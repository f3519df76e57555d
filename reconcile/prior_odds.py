"""How likely each cause is before any bill is seen, by its code, and factors on its odds that a caller gives."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import Any

from reconcile.costs import finite
from reconcile.kinds import KINDS


def priors() -> dict[str, float]:
    """Return the chance of each cause before any bill is seen, by the codes that ``odds`` of ``reconcile`` takes.

    Returns
    -------
    dict of str to float
        Chance in a house over about a year and a half of bills, where all the kinds of the cause may stand: some ask
        for an exchange of the meter, for generation or for interval data. Their reasons stand in the page on results.

    Examples
    --------
    >>> priors()["meter-always"] < priors()["constant-load"]
    True
    """
    chances: dict[str, float] = {}
    for kind in KINDS.values():
        chances[kind.code] = round(chances.get(kind.code, 0.0) + kind.chance + kind.large_chance, 6)
    return chances


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
    known = list(priors())
    wrong = []
    for code, factor in odds.items():
        if code == "none":
            wrong.append("'none' has no odds of its own: it is what the others leave")
        elif code not in known:
            near = difflib.get_close_matches(str(code), known, n=1)
            wrong.append(f"{code!r} is no code of a cause" + (f"; did you mean {near[0]!r}?" if near else ""))
        elif (finite(factor) or 0.0) <= 0.0:
            wrong.append(f"{code!r} takes a factor above 0, and got {factor!r}")
    if wrong:
        end = "" if wrong[-1].endswith("?") else "."
        raise ValueError(f"odds: {'; '.join(wrong)}{end} The codes are {', '.join(known)}.")
    return {str(code): float(factor) for code, factor in odds.items()}
