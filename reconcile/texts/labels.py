"""Short names for codes: findings, parts of a change of money, where a step is done, signs of danger."""

from __future__ import annotations

from collections.abc import Mapping

HAZARDS = (
    "With the billing records, and by asking",
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
    "beyond": "Beyond the tariff as typed",
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
    "meter-test": "The utility's test of the meter",
    "meter-number": "Another meter on the bill",
    "price-change": "Price change",
    "amount-mismatch": "Amount differs from the tariff as typed",
    "interval-mismatch": "Interval data and bill disagree",
    "own-power": "Own generation",
    "above-plate": "A listed load above its plate",
    "step-sizes": "Appliances recorded at another size",
    "proration": "Price change inside a bill",
    "rebill": "Bill written anew",
    "budget-settlement": "Budget plan settled",
    "budget-billing": "Budget plan (budget billing)",
    "other-charge": "Other charges",
    "rate-code-change": "Price plan changed",
    "negative-use": "Negative use",
    "net-metering": "Net metering",
    "export-not-credited": "Energy sent out, not credited",
}

SIGNS = {
    "warm_meter": "the meter, its box or the panel is warm",
    "buzzing": "buzzing",
    "burning_smell": "a smell of burning",
    "lights_brighten_and_dim": "lights brighten and dim",
    "water_at_meter": "water at the meter",
    "damaged_conduit": "a damaged conduit",
    "shock": "somebody felt a shock",
    "sparks_or_scorching": "an outlet, a plug or a wire that is hot, scorched or sparks",
    "loose-neutral": "the volts of the two legs lie apart, as with a loose neutral",
    "poor-joint": "an outlet loses far too many volts under load",
    "buried-line": "the meter counts with the main off and the wires run underground: the soil may be live",
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


MEANS: dict[str, tuple[str, str]] = {
    "urgent": ("a sign of danger: stop; nothing is weighed until it is gone", "the utility's emergency line, now"),
    "explained": ("the weather, the days, the price and your habits account for the bills", "no"),
    "rise-explained": ("more was used than usual, and by what is said; nothing points to the meter", "no"),
    "fell": (
        "less was used for good, or the meter counts too little: ask at home what ended",
        "only if nothing fits: the billing desk, for the readings",
    ),
    "find-out": (
        "no bill is high; something else changed, such as the watts with which an appliance switches",
        "the utility, for what the page says",
    ),
    "price-rose": (
        "no bill is high, but a kWh costs more than it did, or a charge beside it does",
        "the billing desk: which rate applies, since when",
    ),
    "list-short": ("no bill is high, but something has been there all the time that is not on the list of loads", "no"),
    "list-differs": ("no bill is high; parts of the list look too large, and something is not on it", "no"),
    "below-list": (
        "no bill is high, but all lie far below the list: it is too long, or the meter counts too little",
        "not yet",
    ),
    "paperwork": (
        "the records themselves show it",
        "the billing desk, if the page has words for it; else nobody",
    ),
    "odd-reading": (
        "a bill stands out, and no record says why: think back first, then have its reading checked",
        "the billing desk, if nothing that you remember fits",
    ),
    "inventory": ("all bills stand off the list: measure the loads named, then run it again", "not yet"),
    "equipment": (
        "heating or cooling takes more for the same weather: its thermostat, filter and outdoor unit show why",
        "not the utility; a heating or cooling firm, where the look says so",
    ),
    "outside-check": (
        "a meter or a hidden load could be behind it; checks with every cover on would tell",
        "after the checks: they say whom",
    ),
    "field-test": ("the meter stands out against all else", "the utility, for a test, in writing"),
    "run-first": (
        "one run, or the watts you listed, shows the meter out; more runs make sure of it",
        "not yet: the utility, for a test, in writing, where the runs agree",
    ),
    "cannot-tell": ("something stands out, or too much could hide; the steps say what would tell", "not yet"),
    "not-enough-data": ("what to add", "only for copies of older bills"),
}
"""What each means, and whom to call: for the householder's guide."""

FLAGS: dict[str, tuple[str, str]] = {
    "within": ("●", "as usual"),
    "over": ("▲", "high"),
    "under": ("▼", "low"),
    "not-judged": ("○", "not judged"),
}
"""Shape and word of each flag: the shape carries the meaning, colour never alone."""

DECISIONS: dict[str, str] = {
    "urgent": "Danger",
    "explained": "Nothing out of the ordinary",
    "paperwork": "It is in the billing records",
    "odd-reading": "A reading may be off",
    "inventory": "Measure some loads first",
    "outside-check": "Check from outside first",
    "field-test": "A meter test is warranted",
    "not-enough-data": "Not enough to go on yet",
    "cannot-tell": "These bills cannot tell yet",
    "rise-explained": "More was used than usual",
    "fell": "Less was used, or counted, than usual",
    "find-out": "The bills are as usual; one thing to find out",
    "price-rose": "The price rose",
    "list-short": "The list of loads is short",
    "list-differs": "The list and the bills differ in shape",
    "below-list": "All bills lie below the list",
    "equipment": "Look at the heating or cooling first",
    "run-first": "A meter test, if more runs agree",
}
"""What each decision is called; ``odd-reading`` stands for ``paperwork`` where no record shows anything; of the last ten eight stand for ``explained``: where something is left that no cause explains, and
where a rise is told that needs no check; where less is used for good, or a bill is low; where something is asked of the utility all the same; where only the price rose; where the bills have always been more than the list accounts for; where parts
of the list look too large beside what is missing from it; and where all bills lie far below the list; for ``inventory`` where heating or cooling takes more; and the last for ``field-test`` after one run."""
