"""Short names for codes: findings, parts of a change of money, where a step is done, signs of danger."""

from __future__ import annotations

from collections.abc import Mapping

HAZARDS = (
    "With the billing records",
    "Looking and writing down",
    "With a plug-in meter, nothing opened",
    "At the breakers, every cover on",
    "The utility's people",
    "At the panel: a qualified person only",
)
"""Heading for each hazard of :class:`reconcile.result.Step`."""

PLACES = {
    "breakers": "Breaker by breaker, the main on, every cover on",
    "main-off": "Main breaker off, every cover on",
}
"""Heading of the steps at the breakers, by their code: one needs the main on, the other off."""


def place_of(code: str, hazard: int) -> str:
    """Return the heading under which a step stands.

    Examples
    --------
    >>> place_of("breakers", 3), place_of("compare", 1)
    ('Breaker by breaker, the main on, every cover on', 'Looking and writing down')
    """
    return PLACES.get(code, HAZARDS[hazard])


BRIDGE = {
    "price": "Price",
    "fixed": "Fixed charges",
    "days": "Length of the bills",
    "weather": "Weather",
    "use": "Use, within the usual",
    "excess": "Use over or under the usual",
}
"""Parts of a change of money between two bills."""

FINDINGS = {
    "gap": "Days without a bill",
    "overlap": "Bills overlap",
    "duplicate": "The same bill twice",
    "days-mismatch": "Printed days do not fit the dates",
    "long-period": "Long period",
    "short-period": "Short period",
    "estimated-read": "Estimated reading",
    "catch-up": "Catch-up after an estimate",
    "reading-mismatch": "Readings do not give the kWh",
    "stopped-register": "Meter stopped",
    "unit-mismatch": "Unit or column",
    "unit-price": "kWh against amount",
    "rollover": "Register passed its end",
    "reading-slip": "Misread or keying error",
    "multiplier": "Multiplier",
    "meter-exchange": "Meter exchange",
    "meter-work": "Work at the meters",
    "meter-number": "Another meter on the bill",
    "price-change": "Price change",
    "amount-mismatch": "Amount differs from the tariff as typed",
    "interval-mismatch": "Interval data and bill disagree",
    "above-plate": "A listed load above its plate",
    "step-sizes": "Appliances recorded at another size",
    "proration": "Price change inside a bill",
    "rebill": "Bill written anew",
    "budget-settlement": "Budget plan settled",
    "budget-billing": "Budget plan (budget billing)",
    "other-charge": "Other charges",
    "rate-code-change": "Price plan changed",
    "negative-use": "Negative use",
    "export-not-credited": "Energy sent out, not credited",
}

SIGNS = {
    "warm_meter": "the meter or its box is warm",
    "buzzing": "buzzing",
    "burning_smell": "a smell of burning",
    "lights_brighten_and_dim": "lights brighten and dim",
    "water_at_meter": "water at the meter",
    "damaged_conduit": "a damaged conduit",
    "shock": "somebody felt a shock",
    "sparks_or_scorching": "an outlet, a plug or a wire that is hot, scorched or sparks",
}
"""Signs of danger as they are told back to who reported them."""


def spoken(code: str, words: Mapping[str, str]) -> str:
    """Return the words for a code; a code that is not known yet reads as itself without hyphens.

    Examples
    --------
    >>> spoken("reading-slip", FINDINGS), spoken("moon-phase", FINDINGS)
    ('Misread or keying error', 'moon phase')
    """
    return words.get(code, code.replace("-", " ").replace("_", " "))
