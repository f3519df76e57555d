"""Sentences about money: why it changed, what hangs on what, what a rule would give back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from reconcile.rounding import half_up
from reconcile.say import Voice, listed
from reconcile.texts import Sentence, tell

if TYPE_CHECKING:
    from reconcile.facts import Finding
    from reconcile.money.bridge import Bridge
    from reconcile.money.recompute import Recomputed
    from reconcile.money.refund import Refund
    from reconcile.money.stake import Stake
    from reconcile.result_parts import Came

CHECK = "Check your local rule; this is arithmetic, not legal advice."

PART_NAMES = {
    "price": "price",
    "fixed": "fixed charges",
    "days": "the length of the bills",
    "weather": "weather",
    "use": "the rest of the household's use",
    "beyond": "what the tariff as typed does not give",
    "excess": "use over or under the usual",
}
"""What each part of a change in money is called within a sentence."""

MISSING: dict[str, Sentence] = {
    "no-tariff": "no tariff is given for the first day",
    "no-energy": "the energy is not known",
    "no-demand": "the demand in kW, which {charge} charges for, is not given",
    "no-export": "the energy sent out, which {charge} credits, is not given",
    "no-windows": (
        "{charge} is priced by the time of day, and neither registers named {windows} nor interval data cover the days"
    ),
}
"""Why a bill cannot be worked out from the tariff."""


def part_name(bridge: Bridge, part: str) -> str:
    """Name a part of a change in money.

    Parameters
    ----------
    part : str
        One of :data:`reconcile.money.bridge.PARTS`.
    """
    if part == "use" and not bridge.weather_known:
        return "use, weather and your panels included" if bridge.generates else "use, weather included"
    if part == "use" and bridge.generates:
        return "the rest of the household's use and your panels"
    if part == "price" and bridge.price_is_average:
        return "the average price of a kWh, fixed charges in it"
    return PART_NAMES[part]


INFERRED = ("days", "weather", "use", "excess")
"""Parts of a change in money that rest on what the house uses, not on prices alone: no cents are known of them."""


def bridge_sentence(bridge: Bridge, voice: Voice) -> str:
    """Say why the money changed: which bills, by how much, and every part, so that the parts add up as printed.

    Where a part is inferred all are told without cents.
    """
    one = len(bridge.from_periods) == len(bridge.to_periods) == 1
    before, after = voice.span(*bridge.from_dates), voice.span(*bridge.to_dates)
    which = f"The bill of {after} asks for" if one else f"The bills of {after} ask for"
    than = f"that of {before}" if one else f"those of {before}"
    about = any(bridge.parts.get(part) for part in INFERRED)
    parts, write = (whole_parts(bridge.parts), voice.about_money) if about else (bridge.parts, voice.money)
    total = sum(parts.values(), start=Decimal(0))
    order = sorted((p for p in parts if parts[p]), key=lambda p: -abs(parts[p]))
    each = listed(
        [f"{write(abs(parts[p]))} {'more' if parts[p] > 0 else 'less'} for {part_name(bridge, p)}" for p in order]
    )
    if len(order) == 1:  # no amount is told twice
        each = f"all of it for {part_name(bridge, order[0])}"
    if total == 0:
        return f"{which} {'about ' if bridge.total else ''}the same as {than}{f': {each}' if each else ''}."
    way = "more" if total > 0 else "less"
    return f"{which} {write(abs(total))} {way} than {than}: {each}."


def whole_parts(parts: Mapping[str, Decimal]) -> dict[str, Decimal]:
    """Round amounts to whole units of money so that they add up to their rounded sum.

    Examples
    --------
    >>> whole_parts({"weather": Decimal("271.79"), "days": Decimal("-76.04"), "use": Decimal("-2.40")})
    {'weather': Decimal('272'), 'days': Decimal('-76'), 'use': Decimal('-3')}
    """
    whole = {name: half_up(amount, 0) for name, amount in parts.items()}
    short = half_up(sum(parts.values(), start=Decimal(0)), 0) - sum(whole.values(), start=Decimal(0))
    one = Decimal(1 if short > 0 else -1)
    for name in sorted(parts, key=lambda name: -one * (parts[name] - whole[name]))[: abs(int(short))]:
        whole[name] += one  # those go the other way that were the nearest to it
    return whole


REASON = {
    "price": "higher prices make",
    "price-or-charge": "another price or another charge (one bill alone cannot tell which) makes",
    "fixed": "higher fixed charges make",
    "beyond": "what the tariff as typed does not give makes",
    "days": "more days make",
    "cold": "the cold makes",
    "heat": "the heat makes",
    "weather": "the weather makes",
    "use": "more use, within the usual, makes",
    "any-use": "more kWh, by the weather or otherwise, make",
    "own": "more kWh, by use or by what the panels made, make",
}
LESS = 0.85
"""Part of a rise below which the table shows clearly less of it (our choice)."""
WORTH_TELLING = Decimal("0.1")
"""Part of the earlier bill by which a later one is dearer before the answer says why (our choice)."""


def dearest_part(bridge: Bridge) -> str:
    """Return the part that makes the later bill dearer, where it is clearly dearer and one part makes most of it."""
    part = max(bridge.parts, key=lambda p: bridge.parts[p])
    if bridge.total < WORTH_TELLING * abs(bridge.from_amount) or bridge.total <= 0:
        return ""
    if 2 * bridge.parts[part] < bridge.total:
        return ""
    return part


BEGAN = "more use, about {kwh:figure} kWh of it by the {load} on your list from {arrives:day}, makes"
"""The reason where a listed load came between the bills compared."""


def price_borne_out(bridge: Bridge, rise: Finding | None) -> bool:
    """Say whether more than one bill without a tariff speaks for another price.

    Parameters
    ----------
    rise : Finding or None
        Of :func:`price_rise`.
    """
    several = min(len(bridge.from_periods), len(bridge.to_periods)) > 1
    return bridge.by_tariff or rise is not None or several or bridge.price_seen_again


def dearest_sentence(
    bridge: Bridge, weather: str, voice: Voice, came: Came | None = None, *, borne_out: bool = True
) -> str:
    """Say in one sentence why a bill is dearer than the one it is compared with: its largest part.

    Parameters
    ----------
    weather : str
        What the weather of the later bill was: ``cold``, ``heat``, or ``weather`` where neither leads.
    came : Came or None
        A load of the list that came between the two and makes most of what more is used.
    borne_out : bool
        As :func:`price_borne_out`.

    Returns
    -------
    str
        Empty where nothing is worth saying.
    """
    part = dearest_part(bridge)
    name = weather if part == "weather" else "price-or-charge" if part == "price" and not borne_out else part
    if name == "use" and came is None and not bridge.weather_known:
        name = "any-use"
    if name in ("use", "any-use") and bridge.generates:
        name = "own"
    if name not in REASON:
        return ""
    one = len(bridge.from_periods) == len(bridge.to_periods) == 1
    after, before = voice.span(*bridge.to_dates), voice.span(*bridge.from_dates)
    which = f"The bill of {after} asks" if one else f"The bills of {after} ask"
    size = "all" if bridge.parts[part] >= bridge.total else voice.about_money(bridge.parts[part])
    than = f"that of {before}" if one else f"those of {before}"
    reason = REASON[name]
    if came is not None and name == "use":
        reason = voice.fill(BEGAN, {"load": came.load.name, "arrives": came.load.arrives, "kwh": came.kwh})
    return f"{which} {voice.about_money(bridge.total)} more than {than}: {reason} {size} of it."


WORTH_ASKING = 0.05
"""Part by which a price has risen from which it is told before all else of a house whose bills are in order (our
choice)."""


CLEARLY_DEARER = 0.1
"""The same from which it is told before what else made a bill dearer (our choice)."""


def price_rise(findings: Sequence[Finding]) -> Finding | None:
    """Return the rise of the price, or of what each bill asks beside it, that the bills' own money shows, where it is
    worth asking about.
    """
    rises = price_rises(findings)
    return rises[-1] if rises else None


def price_rises(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return every such rise, in the order of the bills."""
    cases = ("price-change/own", "price-change/own-fixed")
    return tuple(f for f in findings if f.key in cases and f.figures["part"] >= WORTH_ASKING)


def rise_sentence(rise: Finding | None, voice: Voice) -> str:
    """Say since when a kWh costs more, or each bill asks for more beside it, and what that made.

    Parameters
    ----------
    rise : Finding or None
        Of :func:`price_rise`.
    """
    if rise is None:
        return ""
    figures = {**rise.figures, "percent": 100.0 * rise.figures["part"]}
    bills = "the bill" if figures["count"] == 1 else "the {count} bills"
    if rise.case == "own-fixed":
        more = (
            "Each bill asks for {each:money} more since {day:day}, whatever its kWh (a fixed charge, or a credit that "
            f"ended): about {{more:about_money}} on {bills} since then. A kWh costs the same."
        )
    elif earlier := [(day, part, more) for day, part, more in figures["earlier"] if part >= WORTH_ASKING]:
        first, part, _ = earlier[-1]
        figures |= {
            "first": first,
            "before": 100.0 * part,
            "all": figures["more"] + sum(more for *_, more in earlier),
            "since": earlier[0][0],
        }
        more = (
            "A kWh costs {percent:percent} more since {day:day}, and {before:percent} more before that since {first:day}: "
            "together about {all:about_money} on the bills since {since:day}."
        )
    else:
        more = (
            f"A kWh costs {{percent:percent}} more since {{day:day}}: about {{more:about_money}} on {bills} since then."
        )
    return voice.fill(more, figures)


def notes(recomputed: Sequence[Recomputed]) -> tuple[str, ...]:
    """Say why bills could not be worked out from the tariff."""
    reasons = Counter(r.why_not for r in recomputed if r.why_not is not None)
    said = []
    for missing, count in reasons.items():
        figures = {"charge": missing.charge, "windows": " and ".join(missing.windows)}
        bills = "1 bill was" if count == 1 else f"{count} bills were"
        said.append(f"{bills} not worked out from the tariff: {tell(Voice(), MISSING, missing.code, figures)}.")
    return tuple(said)


def stake_text(stake: Stake, name: str, voice: Voice) -> str:
    """Say what hangs on a finding or a cause; never as money to be had back.

    Parameters
    ----------
    name : str
        What the finding or the cause is called.
    """
    way, name = "more" if stake.kwh >= 0 else "less", voice.capital(name)
    if stake.probability is None:
        cost = "" if stake.amount is None else f" ({voice.money(abs(stake.amount))})"
        return f"{name}: {voice.kwh(abs(stake.kwh))}{cost} {way} charged than the records account for."
    limits = stake.kwh_limits or (stake.kwh, stake.kwh)
    energy = voice.kwh(abs(stake.kwh), doubt=max(abs(limits[1] - limits[0]) / 2.0, 1.0))
    cost = "" if stake.amount is None else f" ({voice.about_money(abs(stake.amount))})"
    chance = voice.chance(stake.probability)
    return f"{name}, {chance}: if so, about {energy}{cost} {way} on these bills because of it."


def bridging(stake: Stake, marked: Sequence[int], over: Decimal | None, voice: Voice) -> str:
    """Say how the money of a cause and the sum of the bills marked high belong together.

    Parameters
    ----------
    stake : Stake
        A cause's.
    marked : sequence of int
        Bills marked high.
    over : Decimal or None
        Money of what they are over.

    Returns
    -------
    str
        Empty where only one of the two is told, or both are printed alike.
    """
    if stake.probability is None or stake.amount is None or over is None or not marked or stake.amount <= 0:
        return ""
    cause, high = voice.about_money(stake.amount), voice.about_money(over)
    if cause == high or not set(marked) & set(stake.periods):
        return ""
    one = len(marked) == 1
    bills = "the bill marked high" if one else f"the {len(marked)} bills marked high"
    whole = f"what {bills} is over" if one else f"all that {bills} are over"
    if set(marked) == set(stake.periods):
        part = "part" if stake.amount < over else "own size, found with all bills together"
        return f"The {high} over usual is {whole}; {cause} is this cause's {part}."
    every = "bill" if len(stake.periods) == 1 else f"{len(stake.periods)} bills"
    if set(stake.periods) < set(marked):
        return f"{cause} counts the {every} that it touches; the {high} over usual is {whole}."
    if stake.amount < over:
        return f"{cause} is this cause's part of the {every} that it touches; the {high} over usual is {whole}."
    counted = "both bills" if len(stake.periods) == 2 else f"all {every}"
    return f"{cause} counts {counted} that it touches; the {high} over usual counts only {bills}."


def shown_less(stake: Stake, shown_kwh: float, voice: Voice) -> str:
    """Say why the bills themselves show less than a rise that none of them shows alone.

    Parameters
    ----------
    stake : Stake
        A cause's.
    shown_kwh : float
        What its bills are over in the table, together [kWh].
    """
    if stake.probability is None or not 0 < shown_kwh < LESS * stake.kwh:
        return ""
    return (
        f"The table shows {voice.number(shown_kwh)} kWh over for these bills: what is usual for each comes from all the "
        "others, and those that rose with it hide a part."
    )


def refund_text(refund: Refund, voice: Voice) -> str:
    """Say what a rule would give."""
    rule = f"the rule of {refund.rule.place} ({refund.rule.source})"
    if refund.within_tolerance:
        return (
            f"The meter registers {voice.percent(refund.registration_percent, doubt=0.2)}, within "
            f"{voice.percent(refund.rule.tolerance_percent)} of right: by {rule} nothing is owed. {CHECK}"
        )
    cost = "" if refund.amount is None else f", {voice.money(abs(refund.amount))},"
    who = "to the customer" if refund.kwh > 0 else "by the customer"
    dates = f"from {voice.day(refund.start)} to {voice.day(refund.end)}"
    energy = f"{voice.kwh(abs(refund.kwh), doubt=2.0)}{cost}"
    if refund.registration_percent is None:
        return (
            f"On the bills {dates}, {energy} would be owed {who}. How far back is for your local rule to say. {CHECK}"
        )
    how = ""
    if refund.since_known:
        how = ", and since when is known"
    elif refund.rule.drift:
        how = ", taken to have grown evenly since the last test"
    missing = f" For {voice.days(refund.uncovered_days)} of that no bill is here." if refund.uncovered_days > 0 else ""
    return (
        f"By {rule}, {dates}, {energy} would be owed {who}: the meter registers "
        f"{voice.percent(refund.registration_percent, doubt=0.2)}{how}.{missing} {CHECK}"
    )


def refunds_text(refunds: Sequence[Refund], voice: Voice, *, supposed: bool = False) -> str:
    """Say between which amounts published rules differ, for a meter found wrong.

    Parameters
    ----------
    refunds : sequence of Refund
        As :func:`reconcile.money.refund.refunds` gives them.
    supposed : bool
        Whether no test has found it yet.

    Returns
    -------
    str
        Empty where nothing is owed by any.
    """
    owed = [r for r in refunds if r.kwh]
    if not owed:
        return ""
    known = sorted(abs(r.amount) for r in owed if r.amount is not None)
    energy = sorted(abs(r.kwh) for r in owed)
    if len(known) == len(owed):
        size = f"about {voice.about_money(known[0])} to {voice.about_money(known[-1])}"
    else:
        size = f"about {voice.number(energy[0], 10.0)} to {voice.number(energy[-1], 10.0)} kWh"
    who = "to the customer" if owed[0].kwh > 0 else "by the customer"
    places = listed([r.rule.place for r in sorted(owed, key=lambda r: r.rule.place)])
    if supposed:
        return (
            f"A test may find what the bills suggest, a meter that registers {voice.number(owed[0].registration_percent)} %. "
            f"Then published rules would give {size} {who}, on these bills and were it never tested before. Those are the "
            f"rules of {places}, some from memory. The rule of your own state may give more or less. {CHECK}"
        )
    return (
        f"Published rules would give {size} {who} for a meter that registers "
        f"{voice.percent(owed[0].registration_percent, doubt=0.2)}, on these bills and were it never tested before. Those "
        f"are the rules of {places}, some from memory. {CHECK}"
    )
