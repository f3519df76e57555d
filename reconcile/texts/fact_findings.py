"""Sentences of findings that stand before any statistics: a register that stands still, units and prices."""

from __future__ import annotations

from reconcile.say import Voice
from reconcile.texts import Figures, Sentence
from reconcile.texts.record_findings import HOW

MEANT = {
    "exchanged": "kWh and amount exchanged",
    "wh": "Wh instead of kWh (divided by 1,000)",
    "mwh": "MWh instead of kWh (times 1,000)",
    "ten": "kWh with one digit too many (divided by 10)",
    "tenth": "kWh with one digit missing (times 10)",
    "hundred": "kWh with two digits too many (divided by 100)",
    "hundredth": "kWh with two digits missing (times 100)",
    "cents": "amounts in cents",
    "registers": "readings of the meter, each less the one before,",
    "running": "sums that run through the year, each less the one before,",
    "daily": "an average a day, times the days of each bill,",
}
"""What the two columns may have been meant to be."""


def _bills(voice: Voice, f: Figures) -> str:
    if f["count"] == 1:
        return f"the bill of {voice.span(*f['bill'])}"
    return f"{f['count']} bills from {voice.day(f['bill'][0])}"


def _in_use(voice: Voice, f: Figures) -> str:
    text = f"this house usually uses about {voice.figure(f['usual_per_day'])} kWh a day"
    if f["always_watts"] is not None:
        text += f", and the loads listed as running all day take about {voice.watts(f['always_watts'])}"
    return text


def _stopped(voice: Voice, f: Figures) -> str:
    last = "the last bill shows" if f["count"] == 1 else f"the last {f['count']} bills show"
    return (
        f"Since {voice.day(f['since'])} {last} no use or almost none; {_in_use(voice, f)}. A stopped or disconnected "
        "meter is likely. What was used meanwhile may be billed later."
    )


def _stands_still(voice: Voice, f: Figures) -> str:
    since = "" if f["since"] is None else f" since {voice.day(f['since'])}, and none before"
    return (
        f"The interval data hold {voice.number(f['hours'])} hours of exactly nothing, {voice.number(f['runs'])} times "
        f"for up to {voice.number(f['longest'])} hours{since}, and in all other hours at least "
        f"{voice.watts(f['floor_watts'])} run. The meter may stand still at times; or the power was off, or the file "
        "says nothing where no reading came. What was used meanwhile may be billed later."
    )


def _between(voice: Voice, f: Figures) -> str:
    show = "shows" if f["count"] == 1 else "show"
    return (
        f"{voice.capital(_bills(voice, f))} {show} no use or almost none, with ordinary bills before and after; "
        f"{_in_use(voice, f)}. The meter may have stood still or not been read; what was used may be billed later."
    )


def _not_read(voice: Voice, f: Figures) -> str:
    show = "shows" if f["count"] == 1 else "show"
    return (
        f"{voice.capital(_bills(voice, f))} {show} no use or almost none, and the next one, of "
        f"{voice.span(*f['next'])}, more than usual: the reading between them was probably not taken. Only their sum "
        "can be judged."
    )


def _price(voice: Voice, price: float, currency: str) -> str:
    return f"about {Voice(voice.locale, currency).price(price)}"


def _unit(voice: Voice, f: Figures) -> str:
    text = (
        f"kWh and amount of {_bills(voice, f)} give {_price(voice, f['price'], f['currency'])}, which cannot be the "
        "price."
    )
    ways = [f"as {MEANT[m['name']]} they give {_price(voice, m['price'], f['currency'])}" for m in f["meant"]]
    return f"The {text} Read {', or '.join(ways)}."


def _all_prices(voice: Voice, f: Figures) -> str:
    return (
        f"The kWh and amount of {_bills(voice, f)} give {_price(voice, f['price'], f['currency'])}, which no usual "
        "tariff charges: one of the two columns, or the currency under [house], is not what it is taken for."
    )


def _by(f: Figures) -> str:
    return "by the tariff as typed" if f["by_tariff"] else "at the price of the other bills"


def _times(share: str) -> Sentence:
    def say(voice: Voice, f: Figures) -> str:
        return (
            f"The bill of {voice.span(*f['bill'])} charges {voice.kwh(f['kwh'])}, and its amount of "
            f"{voice.money(f['amount'])} pays for {share} that, {_by(f)}: one of the two figures is wrong."
        )

    return say


def _paid(voice: Voice, f: Figures) -> str:
    if f["exactly"]:
        wrong = "left out or mistyped" if f["how"] is None else f"mistyped ({HOW[f['how']]}) or billed wrong"
        by = _by(f) if f["by_tariff"] else "by the price that the other bills follow to the cent"
        return (
            f"The bill of {voice.span(*f['bill'])} shows {voice.kwh(f['kwh'])}, and its amount of "
            f"{voice.money(f['amount'])} pays for {voice.kwh(f['paid_kwh'])}, {by}: its kWh are most likely {wrong}."
        )
    return (
        f"The bill of {voice.span(*f['bill'])} charges {voice.kwh(f['kwh'])}, and its amount of "
        f"{voice.money(f['amount'])} pays for about {voice.figure(f['paid_kwh'])} kWh, {_by(f)}: one of the two "
        "figures is wrong."
    )


def _amount(voice: Voice, f: Figures) -> str:
    other = "A fee, an unpaid balance" if f["amount"] > f["cost"] else "A credit, a fee"
    return (
        f"The kWh of the bill of {voice.span(*f['bill'])} cost about {voice.about_money(f['cost'])} {_by(f)}; its "
        f"amount is {voice.money(f['amount'])}. {other} or another price may be in it, or one of the two figures is "
        "mistyped."
    )


def _arrears(voice: Voice, f: Figures) -> str:
    bills = "the bill before it" if f["bills"] == 1 else f"the {f['bills']} bills before it"
    fee = f["fee"] > max(f["fee_told"], 0.5)
    more = f", and about {voice.about_money(f['fee'])} more" if fee else ""
    return (
        f"The bill of {voice.span(*f['bill'])} asks for {voice.money(f['amount'])}; its kWh cost "
        f"{'' if f['by_tariff'] else 'about '}{voice.about_money(f['cost'])} {_by(f)}. The rest is what {bills} asked "
        f"({voice.money(f['unpaid'])}{more}): most likely an unpaid balance{', with a late fee,' if fee else ''} is in its "
        "amount. That is no higher price and no higher use."
    )


def _off_line(voice: Voice, f: Figures) -> str:
    more = f["more"] > 0
    what = "a fee, a deposit, an unpaid balance or another service" if more else "a credit or a correction"
    tail = f"Most likely {what} is in its amount. That is no other price and no other use."
    if f["last"]:
        tail = (
            f"It may be {what}, or another price or charge since then: one bill alone cannot tell. It is no other use."
        )
    return (
        f"The bill of {voice.span(*f['bill'])} asks for {voice.money(f['amount'])}, {voice.money(abs(f['more']))} "
        f"{'more' if more else 'less'} than its kWh cost by the price that the other bills follow to the cent. {tail}"
    )


BEFORE_STATISTICS: dict[str, Sentence] = {
    "stopped-register": _stopped,
    "stopped-register/between": _between,
    "stopped-register/hours": _stands_still,
    "stopped-register/not-read": _not_read,
    "unit-mismatch": _unit,
    "unit-price": _all_prices,
    "unit-price/double": _times("half of"),
    "unit-price/half": _times("twice"),
    "unit-price/kwh": _paid,
    "unit-price/amount": _amount,
    "other-charge/arrears": _arrears,
    "other-charge/off-line": _off_line,
}
"""Sentence of each finding by ``code`` or ``code/case``."""
