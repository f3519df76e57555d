"""Sentences of findings about prices, amounts and charges."""

from __future__ import annotations

from decimal import Decimal

from reconcile.say import MONTHS, Voice, listed
from reconcile.texts import Figures, Sentence


def _rate(voice: Voice, value: Decimal) -> str:
    """Write a price as it is typed."""
    places = max(0, -int(value.normalize().as_tuple().exponent))
    return voice.number(float(value), 10.0**-places)


def _price_change(voice: Voice, f: Figures) -> str:
    text = f"Prices change on {voice.day(f['day'])}"
    if f["changed"]:
        told = [f"{name} from {_rate(voice, old)} to {_rate(voice, new)}" for name, old, new in f["changed"]]
        text += f": {listed(told)}"
    if f["dearer"] is not None:
        text += (
            f". The bill of {voice.span(*f['bill'])} would cost {voice.money(abs(f['dearer']))} "
            f"{'more' if f['dearer'] >= 0 else 'less'} at the new prices than at the old"
        )
    return f"{text}."


def _value(voice: Voice, f: Figures) -> str:
    return f"{f['name']} changes on {voice.day(f['day'])} from {_rate(voice, f['old'])} to {_rate(voice, f['new'])}."


def _values(voice: Voice, f: Figures) -> str:
    return (
        f"{f['name']} changes {f['times']} times over these bills, between {_rate(voice, f['least'])} and "
        f"{_rate(voice, f['most'])}."
    )


def _own_change(voice: Voice, f: Figures) -> str:
    way = "more" if f["part"] > 0 else "less"
    bills = "the bill" if f["count"] == 1 else f"the {f['count']} bills"
    each = f.get("each", 0)
    beside = f" Each bill asks for about {voice.about_money(abs(each))} {'more' if each > 0 else 'less'} beside it."
    return (
        f"By the bills' own amounts, a kWh costs about {voice.rate(f['new'])} since {voice.day(f['day'])}, "
        f"{voice.percent(100.0 * abs(f['part']))} {way} than before (about {voice.rate(f['old'])}).{beside if each else ''}"
        f" On {bills} since then that makes about {voice.about_money(abs(f['more']))} {'more' if f['more'] > 0 else 'less'}."
    )


def _own_charge(voice: Voice, f: Figures) -> str:
    way = "more" if f["more"] > 0 else "less"
    bills = "the bill" if f["count"] == 1 else f"the {f['count']} bills"
    return (
        f"By the bills' own amounts, each bill asks for about {voice.money(abs(f['each']))} {way} since "
        f"{voice.day(f['day'])}, whatever its kWh; a kWh costs about {voice.rate(f['price'])} as before. That is a fixed "
        f"charge, a fee or a credit, and makes about {voice.about_money(abs(f['more']))} {way} on {bills} since then."
    )


ROUNDED_TWICE = Decimal("0.02")
"""Money within which an amount is twice what the tariff gives: rounding of two bills in one."""


def _differs(voice: Voice, f: Figures) -> str:
    billed, ours = f["billed"], f["ours"]
    much = f"{voice.money(abs(billed - ours))} {'more' if billed > ours else 'less'} than"
    if ours > 0 and abs(billed - 2 * ours) <= ROUNDED_TWICE:
        much = "exactly twice"
    text = (
        f"The bill of {voice.span(*f['bill'])} asks for {voice.money(billed)}, {much} what the tariff as typed gives "
        f"({voice.money(ours)})"
    )
    if f["lines"]:
        told = [f"{name} {voice.money(printed)} beside ours {voice.money(own)}" for name, printed, own in f["lines"]]
        text += f": {listed(told)}"
    if f["all_at"]:
        text += f"; it is what all its days at the {f['all_at']} prices cost"
    return f"{text}."


MISMATCHES = (
    "{count} bills from {first:short_day} to {last:short_day} ask together {amount:money} {way} than the tariff as typed "
    "gives: its prices may have changed since, or the bills are wrong."
)


def _most_differ(voice: Voice, f: Figures) -> str:
    return (
        f"The tariff as typed does not give {f['count']} of {f['judged']} bills (from {voice.money(f['least'])} to "
        f"{voice.money(f['most'])} a bill). Most likely it is typed differently from what applies."
    )


def _line(voice: Voice, f: Figures) -> str:
    return (
        f"The line {f['name']} reads {voice.money(f['amount'])}; {_rate(voice, f['quantity'])} x "
        f"{_rate(voice, f['rate'])} is {voice.money(f['ours'])}."
    )


def _amount_due(voice: Voice, f: Figures) -> str:
    apart = f["apart"]
    return (
        f"The bill of {voice.span(*f['bill'])} asks for {voice.money(f['due'])}, of which {voice.money(f['amount'])} "
        f"is this period's electricity: {voice.money(abs(apart))} "
        f"{'more, which is not' if apart > 0 else 'less, by a credit or a payment'}."
    )


def _carried_over(voice: Voice, f: Figures) -> str:
    bills = "the bill before it" if f["bills"] == 1 else f"the {f['bills']} bills before it"
    late = f["fee"] >= 0.005
    rest = f", and {voice.money(f['fee'])} more" if late else ""
    return (
        f"The bill of {voice.span(*f['bill'])} asks for {voice.money(f['due'])}, of which {voice.money(f['amount'])} "
        f"is this period's electricity. The rest is what {bills} asked ({voice.money(f['unpaid'])}{rest}): most likely "
        f"an unpaid balance{', with a late fee' if late else ''}. That is no higher price and no higher use."
    )


def _within(voice: Voice, f: Figures) -> str:
    return (
        f"The bill of {voice.span(*f['bill'])} holds {voice.money(f['apart'])} that is not this period's electricity: "
        f"{listed(f['names'])}."
    )


def _beside(voice: Voice, f: Figures) -> str:
    return (
        f"Beside its electricity the bill of {voice.span(*f['bill'])} asks for {voice.money(f['apart'])}: "
        f"{listed(f['names'])}."
    )


def _settlement(voice: Voice, f: Figures, *, exact: bool) -> str:
    side = f"{voice.money(abs(f['balance']))} {'behind' if f['balance'] > 0 else 'ahead of'}"
    text = (
        f"The bill of {voice.span(*f['bill'])} asks for {voice.money(f['due'])}; its electricity is "
        f"{voice.money(f['amount'])}. "
    )
    if exact:
        return (
            f"{text}By the bills before, the payments of the budget plan were {side} the use; this bill settles that. "
            "It is not this period's use."
        )
    stood = f", and by the bills before, the payments were {side} the use" if f["balance"] else ""
    return (
        f"{text}The budget plan's installment is {voice.money(f['instalment'])}{stood}; the rest settles the plan "
        "or is another charge. It is not this period's use."
    )


def _plan(voice: Voice, f: Figures) -> str:
    """Say that payments are most likely a plan's, and whether it was set anew."""
    use = (
        ""
        if f["least_kwh"] is None
        else voice.fill(", whatever their kWh ({least_kwh:number} to {most_kwh:number})", f)
    )
    same = f"ask for the same{use}: most likely a budget plan's installments (budget billing)"
    tail = "That is no price of a kWh. What each bill cost is not here."
    if f["anew"] is None:
        return f"{f['count']} bills {same}, {voice.money(f['paid'])} each. {tail}"
    return f"{_went(voice, f)}. The bills {same}, set anew then, most often by the use of the year before. {tail}"


def _plan_beside(voice: Voice, f: Figures) -> str:
    """Say that a plan was set anew, and how it stands against the charges."""
    more = f["in_all"] - f["charged"]
    stands = f"{voice.money(abs(more))} {'more' if more > 0 else 'less'} than was charged" if more else "the same"
    return (
        f"{_went(voice, f)}: the budget plan's installment (budget billing) was set anew, most often by the use of the year "
        f"before. That is no price of a kWh and no charge of that bill. On these {f['count']} bills the charges come to "
        f"{voice.money(f['charged'])} and the installments to {voice.money(f['in_all'])}, {stands}."
    )


def _went(voice: Voice, f: Figures) -> str:
    old, new, bill = f["anew"]
    return f"The payment went from {voice.money(old)} to {voice.money(new)} with the bill of {voice.span(*bill)}"


def _changes(what: str) -> Sentence:
    def say(voice: Voice, f: Figures) -> str:
        old, new = listed(f["old"]), listed(f["new"])
        return f"The {what} changes from {old} to {new} with the bill of {voice.span(*f['bill'])}."

    return say


def _export(voice: Voice, f: Figures) -> str:
    which = "The bill of {bill:span} charges" if f["count"] == 1 else "{count} bills, the first of {bill:span}, charge"
    return voice.fill(
        which + " all that was delivered, where other bills take off what was sent out: {kwh:kwh} are not credited.", f
    )


def _sent_out(voice: Voice, f: Figures) -> str:
    which = "The bill of {bill:span} is" if f["count"] == 1 else "{count} bills, the first of {bill:span}, are together"
    return voice.fill(which + " {kwh:kwh} below zero: more was sent out than drawn.", f)


_MORE = "more was sent out than drawn"


def _net(does: str, do: str) -> Sentence:
    """Say how the bills below zero are billed; their number decides the verb."""

    def say(voice: Voice, f: Figures) -> str:
        one = f["count"] == 1
        which = "In the bill of {bill:span}" if one else "In {count} bills"
        cleared = f" What is left of them is cleared each {MONTHS[f['month'] - 1]}." if "month" in f else ""
        brought = " About {before:kwh} were brought in from before these bills." if "before" in f else ""
        return voice.fill(f"{which} {_MORE}: {does if one else do}{cleared}{brought}", f)

    return say


CHARGES: dict[str, Sentence] = {
    "price-change": _price_change,
    "price-change/value": _value,
    "price-change/values": _values,
    "price-change/own": _own_change,
    "price-change/own-fixed": _own_charge,
    "price-change/seasons": (
        "By the bills' own amounts, the price of a kWh goes up and down with the season, between about {least:rate} and "
        "about {most:rate}."
    ),
    "proration": (
        "The change falls inside the bill of {bill:span}: its kWh are split by days ({old_days} of {days} at the old "
        "prices), whatever was used when."
    ),
    "proration/value": (
        "{name} changes inside the bill of {bill:span}: it is split by days, {old_days} of {days} at the old value."
    ),
    "amount-mismatch": _differs,
    "amount-mismatch/most": _most_differ,
    "amount-mismatch/since": MISMATCHES,
    "amount-mismatch/lines": (
        "The lines of the bill of {bill:span} add up to {sum:money}; its amount is {amount:money}."
    ),
    "amount-mismatch/line": _line,
    "other-charge": _amount_due,
    "other-charge/due": _carried_over,
    "other-charge/within": _within,
    "other-charge/beside": _beside,
    "budget-settlement": lambda voice, f: _settlement(voice, f, exact=False),
    "budget-settlement/exact": lambda voice, f: _settlement(voice, f, exact=True),
    "budget-billing": _plan,
    "budget-billing/beside": _plan_beside,
    "rate-code-change/rate-code": _changes("rate code"),
    "rate-code-change/supplier": _changes("supplier"),
    "rate-code-change/diary": "The price plan changed on {day:day}.",
    "negative-use": (
        "The bill of {bill:span} gives back {kwh:kwh}, where nothing is known that makes electricity: an earlier bill "
        "charged that much too much and more."
    ),
    "export-not-credited": _export,
    "net-metering/carried": _net(
        "it asks only what does not depend on use, and its {kwh:kwh} are taken off later bills. So the amounts are what the "
        "prices give.",
        "they ask only what does not depend on use, and their {kwh:kwh} are taken off later bills. So the amounts are what "
        "the prices give.",
    ),
    "net-metering/month": _net(
        "it asks only what does not depend on use, and its {kwh:kwh} are not taken off later bills.",
        "they ask only what does not depend on use, and their {kwh:kwh} are not taken off later bills.",
    ),
    "net-metering/floor": _net(
        "it asks only what does not depend on use. What becomes of its {kwh:kwh} these bills do not show yet.",
        "they ask only what does not depend on use. What becomes of their {kwh:kwh} these bills do not show yet.",
    ),
    "net-metering/price": _net(
        "it credits its {kwh:kwh} at about {credit:rate} a kWh, where one that is drawn costs {price:rate}.",
        "they credit their {kwh:kwh} at about {credit:rate} a kWh, where one that is drawn costs {price:rate}.",
    ),
    "net-metering/year": (
        "These bills ask only what does not depend on use: what was drawn and sent out is settled once a year."
    ),
    "net-metering/money": _net(
        "the credit that it leaves is taken off the amount of the next bills.",
        "the credit that they leave is taken off the amount of the next bills.",
    ),
    "net-metering/unclear": (
        "The amounts of months in which more was sent out than drawn are not what the prices give. Most likely the plan "
        "carries what was sent out over to other bills in a way of its own."
    ),
    "negative-use/generation": _sent_out,
}
"""Sentence of each finding by ``code`` or ``code/case``."""
