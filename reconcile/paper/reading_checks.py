"""What two register values show about the energy billed between them, and readings between the bills about theirs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field

from reconcile.facts import Aside, Finding
from reconcile.house import Bill, RegisterReading, registers
from reconcile.house.registers import energy_by_readings
from reconcile.paper.as_if import usual_multiplier
from reconcile.paper.ledger import Ledger, passed_zero
from reconcile.paper.register_jumps import jump_finding, register_jumps
from reconcile.records import dataclass

AGREES_KWH = 1.0
"""A register step's worth: hidden decimals of the two readings and the rounding of the billed kWh [kWh]."""

MOSTLY = 0.75
"""Part of the bills that agree with one register from which the others are slips (our choice)."""

ASK = ("which-reading",)
READ = ("read-to-settle",)


def read_today(ledger: Ledger, edge: int) -> tuple[str, ...]:
    """Ask for a look at the meter where the closing reading in doubt is the last: later ones tell what today does."""
    day = ledger.bills[edge].closes
    later = [ledger.bills[i] for i in ledger.live if ledger.bills[i].closes > day]
    read = any(bill.reading_end is not None and bill.read_type != "estimated" for bill in later)
    own = any(row.day > day and row.type != "estimated" for row in ledger.house.readings)
    return () if read or own else READ


@dataclass(slots=True)
class Seen:
    """What one examiner hands on."""

    findings: list[Finding] = field(default_factory=list)
    loose: set[int] = field(default_factory=set)
    aside: dict[int, Aside] = field(default_factory=dict)
    backwards: list[int] = field(default_factory=list)
    """Bills whose register would have run backwards."""
    ratios: dict[int, float] = field(default_factory=dict)
    """Billed energy over register difference, where that is near a usual multiplier not given."""


def agrees(ledger: Ledger, i: int, kwh: float, other: float) -> bool:
    """Whether two energies of bill i are the same but for a register step."""
    step = max(AGREES_KWH, ledger.meters[i].step_kwh) * max(ledger.multipliers[i], 1.0)
    return abs(kwh - other) <= step + 1e-6


def one_factor(ledger: Ledger) -> bool:
    """Whether one register that runs on gives the kWh of the bills by one factor, the last bill's among them.

    A multiplier that changed on some day would part the bills from their readings from that day to the last. A few
    bills may be typed wrong.
    """
    live = ledger.live
    # a register of a house that sends out may run backwards: it says less
    if ledger.exchanges or ledger.house.generation or len({ledger.multipliers[i] for i in live}) != 1:
        return False
    told = [i for i in live if _by_one_register(ledger, i)]
    parted = [k for k in ledger.joins if not _runs_on(ledger.bills[live[k]], ledger.bills[live[k + 1]])]
    return len(told) >= MOSTLY * len(live) and told[-1] == live[-1] and not parted


def _by_one_register(ledger: Ledger, i: int) -> bool:
    billed, moved = ledger.bills[i].kwh, ledger.moved[i]
    if billed is None or moved is None:
        return False
    if moved < 0.0:
        moved = passed_zero(ledger.house, i, ledger.meters[i], ledger.multipliers[i], ledger.kwh)
    return moved is not None and agrees(ledger, i, billed, moved)


def _runs_on(before: Bill, after: Bill) -> bool:
    closes, opens = before.reading_end, after.reading_start
    return closes is None or opens is None or abs(opens - closes) <= AGREES_KWH


def examine_readings(ledger: Ledger, loose: frozenset[int]) -> Seen:
    """Compare every bill's kWh with its readings, and every closing reading with the next opening one.

    Parameters
    ----------
    loose : frozenset of int
        Bills that close with an estimate.
    """
    seen = Seen()
    mended = _edges(ledger, loose, seen)
    for i in ledger.live:
        if ledger.moved[i] is not None and i not in ledger.spans and i not in mended:
            _one_bill(ledger, i, loose, seen)
        elif ledger.house.readings:
            _by_dated_values(ledger, i, seen)
    seen.findings += against_own_readings(ledger)
    return seen


def _one_bill(ledger: Ledger, i: int, loose: frozenset[int], seen: Seen) -> None:
    moved = ledger.moved[i]
    billed = ledger.bills[i].kwh
    if moved is None:
        return
    if moved < 0 and not ledger.house.generation:
        wrapped = passed_zero(ledger.house, i, ledger.meters[i], ledger.multipliers[i], ledger.kwh)
        if wrapped is not None and (billed is None or agrees(ledger, i, billed, wrapped)):
            seen.findings.append(_rollover(ledger, i, wrapped))
        elif wrapped is not None and billed is not None:
            seen.findings.append(_mismatch(ledger, i, wrapped, billed, passed=True))
        elif not _after_an_estimate(ledger, i, loose):
            seen.backwards.append(i)
        return
    if billed is None or agrees(ledger, i, billed, moved):
        return
    ratio = billed / moved * ledger.multipliers[i] if moved > 0 and billed > 0 else 0.0
    if usual_multiplier(ratio, ledger.multipliers[i]) is not None:
        seen.ratios[i] = ratio
    else:
        seen.findings.append(_mismatch(ledger, i, moved, billed))


def _after_an_estimate(ledger: Ledger, i: int, loose: frozenset[int]) -> bool:
    """Whether the reading that looks too high was an estimate, or the one that looks too low is."""
    k = ledger.live.index(i)
    before = ledger.live[k - 1] if k and k - 1 in ledger.joins else None
    own = (ledger.bills[i].read_type, ledger.bills[i].read_type_start)
    return i in loose or before in loose or "estimated" in own


def _rollover(ledger: Ledger, i: int, energy: float) -> Finding:
    bill = ledger.bills[i]
    figures = {
        "bill": ledger.dates(i),
        "dials": registers.dials_of(bill.reading_start or 0.0, ledger.meters[i].digits),
        "opens": bill.reading_start,
        "closes": bill.reading_end,
        "kwh": energy,
    }
    return Finding("rollover", (i,), energy, figures=figures)


def _mismatch(ledger: Ledger, i: int, by_readings: float, billed: float, *, passed: bool = False) -> Finding:
    bill = ledger.bills[i]
    figures = {
        "bill": ledger.dates(i),
        "billed": billed,
        "opens": bill.reading_start,
        "closes": bill.reading_end,
        "multiplier": ledger.multipliers[i],
        "passed": passed,
        "read": by_readings,
    }
    return Finding(
        "reading-mismatch",
        (i,),
        billed - by_readings,
        settles=True,
        figures=figures,
        asks=("kwh-from-readings",),
    )


def _by_dated_values(ledger: Ledger, i: int, seen: Seen) -> None:
    billed = ledger.bills[i].kwh
    by_readings = energy_by_readings(ledger.house, ledger.bills[i])
    if billed is None or by_readings is None or agrees(ledger, i, billed, by_readings):
        return
    figures = {"bill": ledger.dates(i), "billed": billed, "read": by_readings, "exchanged": i in ledger.spans}
    seen.findings.append(
        Finding(
            "reading-mismatch",
            (i,),
            billed - by_readings,
            settles=True,
            case="dated",
            figures=figures,
            asks=("kwh-from-readings",),
        )
    )


def _edges(ledger: Ledger, loose: frozenset[int], seen: Seen) -> set[int]:
    """Compare closing with opening readings; return bills whose own difference is thereby accounted for."""
    mended: set[int] = set()
    changed = {x.period for x in ledger.exchanges}
    jumps = register_jumps(ledger)
    seen.findings += [jump_finding(ledger, first, later) for first, later in jumps.items()]
    for k in sorted(ledger.joins):
        a, b = ledger.live[k], ledger.live[k + 1]
        closing, opening = ledger.bills[a].reading_end, ledger.bills[b].reading_start
        if closing is None or opening is None or a in loose or b in changed or a in ledger.spans:
            continue
        if _between_registers(jumps, a, b):
            continue
        apart = (opening - closing) * ledger.multipliers[b]
        if abs(apart) <= max(AGREES_KWH, ledger.meters[b].step_kwh) * max(ledger.multipliers[b], 1.0):
            continue
        slip = _one_slip(ledger, b, closing, opening)
        wrong = _misprinted(ledger, a, b, closing, opening)
        if wrong is not None:
            mended.add(wrong)
            seen.findings.append(_misprint(ledger, a, b, wrong, slip))
        else:
            seen.findings.append(_unjoined(ledger, a, b, apart, slip))
    return mended


def _between_registers(jumps: Mapping[int, Sequence[int]], a: int, b: int) -> bool:
    return any(a == before or (a == later[-1] and b not in later) for before, later in jumps.items())


def _one_slip(ledger: Ledger, b: int, closing: float, opening: float) -> registers.Misread | None:
    dials = registers.dials_of(max(closing, opening), ledger.meters[b].digits)
    return registers.misreads_of(closing, dials).get(opening)


def _misprinted(ledger: Ledger, a: int, b: int, closing: float, opening: float) -> int | None:
    """Return the bill whose kWh agree only with its neighbour's reading: only its own figure was miscopied."""
    for i, start, end in (
        (a, ledger.bills[a].reading_start, opening),
        (b, closing, ledger.bills[b].reading_end),
    ):
        billed, moved = ledger.bills[i].kwh, ledger.moved[i]
        if billed is None or moved is None or start is None or end is None or agrees(ledger, i, billed, moved):
            continue
        if agrees(ledger, i, billed, (end - start) * ledger.multipliers[i]):
            return i
    return None


def _misprint(ledger: Ledger, a: int, b: int, wrong: int, slip: registers.Misread | None) -> Finding:
    closing, opening = ledger.bills[a].reading_end, ledger.bills[b].reading_start
    right, printed = (opening, closing) if wrong == a else (closing, opening)
    return Finding(
        "reading-slip" if slip else "reading-mismatch",
        (wrong,),
        0.0,
        case="misprint",
        figures={
            "day": ledger.bills[b].start,
            "closing": closing,
            "opening": opening,
            "right": right,
            "wrong": printed,
            "how": slip,
        },
        household=("correct-figure",),
    )


def _unjoined(ledger: Ledger, a: int, b: int, apart: float, slip: registers.Misread | None) -> Finding:
    closing, opening = ledger.bills[a].reading_end or 0.0, ledger.bills[b].reading_start or 0.0
    return Finding(
        "reading-slip" if slip else "reading-mismatch",
        (a, b),
        -apart,
        settles=True,
        case="unjoined",
        figures={
            "day": ledger.bills[a].end,
            "closing": closing,
            "opening": opening,
            "how": slip,
            "kwh": -apart,
            "on_both": apart < 0 and -apart <= min(ledger.kwh[a], ledger.kwh[b]),
        },
        asks=ASK,
        household=read_today(ledger, a),
    )


def against_own_readings(ledger: Ledger) -> list[Finding]:
    """Find dated values of ``readings.csv`` that a bill's readings contradict, one finding a bill.

    Only values of the register ``total`` on a meter that served throughout are compared, and none where the register
    passed zero or may have run backwards.
    """
    if ledger.house.generation or not ledger.house.readings:
        return []
    findings = []
    for i in ledger.live:
        for row in ledger.house.readings:
            if row.register.casefold() == "total" and row.type != "estimated" and _same_meter(ledger, i, row):
                printed = _contradicted(ledger, i, row)
                if printed is not None:
                    findings.append(_finding(ledger, i, row, printed))
                    break
    return findings


def _same_meter(ledger: Ledger, i: int, row: RegisterReading) -> bool:
    bill = ledger.bills[i]
    if row.event in ("removed", "installed", "exchange") or i in ledger.spans:
        return False
    if row.meter is not None and bill.meter is not None and row.meter != bill.meter:
        return False
    low, high = sorted((row.day, bill.closes))
    return not any(low < x.day <= high for x in ledger.exchanges)


def _contradicted(ledger: Ledger, i: int, row: RegisterReading) -> float | None:
    """Return the printed reading that cannot be right beside a dated one."""
    bill = ledger.bills[i]
    opens, closes = bill.reading_start, bill.reading_end
    if opens is None or closes is None or closes < opens:
        return None
    step = max(1.0, ledger.meters[i].step_kwh)
    inside = bill.start < row.day < bill.closes
    if inside and row.value < opens - step:
        return opens
    if closes - row.value > 10 ** registers.dials_of(closes, ledger.meters[i].digits) / 2:
        return None  # the register passed zero between the two
    too_high = row.value < closes - step and (row.day == bill.closes or _after_the_last(ledger, i, row, bill))
    too_low = row.value > closes + step and (row.day == bill.closes or inside)
    return closes if too_high or too_low else None


def _after_the_last(ledger: Ledger, i: int, row: RegisterReading, bill: Bill) -> bool:
    return i == ledger.live[-1] and row.day > bill.closes


def _finding(ledger: Ledger, i: int, row: RegisterReading, printed: float) -> Finding:
    bill = ledger.bills[i]
    closing = printed == bill.reading_end
    energy = (printed - row.value) * ledger.multipliers[i]
    figures = {
        "bill": ledger.dates(i),
        "own": row.type == "customer",
        "day": row.day,
        "value": row.value,
        "printed": printed,
        "closing": closing,
        "read_type": bill.read_type if closing else "actual",
        "kwh": abs(energy),
    }
    return Finding(
        "reading-mismatch",
        (i,),
        energy if closing else -energy,
        settles=True,
        case="own-reading",
        figures=figures,
        asks=("own-reading",),
    )
