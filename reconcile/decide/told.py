"""What the household's diary accounts for: a line that names what came settles a rise only where it could be it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import timedelta

import numpy as np

from reconcile.decide.rules import LASTING_KINDS, WEATHER_KINDS
from reconcile.house import Event, House
from reconcile.kinds import Flag
from reconcile.loads.handbook import find, most_kwh_per_day, never_off_kwh_per_day
from reconcile.records import dataclass
from reconcile.result import Cause, Period
from reconcile.weigh.causes import between
from reconcile.weigh.constants import EVENT_DAYS
from reconcile.weigh.evidence import sizes
from reconcile.weigh.patterns import CODE_OF_KIND, CODES
from reconcile.weigh.weighed import Weighing

ACCOUNTS_FOR: dict[str, tuple[str, ...]] = {
    "new-load": ("constant-load", "timed-load", "habit-step"),
    "guests": ("single-period", "timed-load"),
    "occupants": ("habit-step",),
    "thermostat": ("heating-rise", "cooling-rise"),
}
"""Causes that a line of the diary is enough to account for. Others make a cause likelier near their date, and leave it
open: an outage draws nothing, and a repair may have gone wrong."""

AT_MOST = 2.0
"""How many times its usual energy a thing that the diary names may take (our choice)."""

LIKELY = 0.5
"""Chance that something lasting has begun from which the diary's line of it is asked about beside one high bill: more
likely than not."""

DATES_FROM = 0.2
"""Part of all use that a new thing could take, never switched off, from which its day dates a rise (our choice: a rise
that bills show is about as large)."""


def diary_line(
    house: House,
    weighing: Weighing | None,
    rows: Sequence[Period],
    causes: Sequence[Cause],
    likeliest: Cause | None,
) -> tuple[Event | None, bool]:
    """Return the diary's line of what is seen, and whether it accounts for it: the household knows what came, and when.

    What came accounts for no bill that is low. Where a thing is too small for the rise by the handbook, or would have
    to run longer than its kind usually does, its line is asked about first and ends no question.
    """
    marked = {row.flag for row in rows}
    fell = Flag.UNDER in marked if likeliest is None else (likeliest.kwh or 0.0) < 0.0
    if Flag.OVER in marked or not fell:
        for by_usual in (True, False):
            if (event := _told(house, weighing, by_usual=by_usual)) is not None:
                return event, by_usual
    odd = next((cause for cause in causes if cause.code == "single-period"), None)
    return diary_of_then(house, likeliest or (odd if marked & {Flag.OVER, Flag.UNDER} else None)), False


SOON = timedelta(days=EVENT_DAYS)
BILL_DAYS = 30.4
"""Days of a bill, roughly."""
NO_RISE = ("away", "outage", "removed-load", "meter-exchange", "price-plan", "nothing-replaced")
NO_FALL = ("new-load", "guests", "meter-exchange", "price-plan", "nothing-replaced")
"""Kinds of a diary line that say nothing of a rise, or of a fall."""
NOT_OF_THE_HOME = ("meter-always", "meter-low", "swap", "unlisted", "none")
"""Causes of which the home's own diary says nothing."""
AT_ITS_END = "old-meter-slow"
"""A cause that ended with an exchange: what came that day raised the bills as its end would."""


def diary_of_then(house: House, cause: Cause | None) -> Event | None:
    """Return the diary's own line nearest to the day on which a cause likely began, whatever its kind.

    Returns
    -------
    Event or None
        To be asked about, and quoted; it ends no question.
    """
    if cause is None or cause.code in NOT_OF_THE_HOME:
        return None
    ended = cause.code == AT_ITS_END
    since, until = cause.since_low if ended else cause.since, cause.until
    if since is None:
        return None
    no = NO_RISE if ended or (cause.kwh or 0.0) > 0.0 else NO_FALL
    told = [e for e in house.events if e.kind not in no and (e.load or e.note) and not _far_too_small(e, cause)]
    # of one bill, whatever is told of its own days
    last = until if cause.code == "single-period" and until is not None else since
    near = [event for event in told if since - SOON <= event.day <= max(last, since + SOON)]
    if not near and until is not None:  # what was done when it ended
        return next((e for e in told if e.kind in DONE and abs((e.day - until).days) <= EVENT_DAYS), None)
    return min(near, key=lambda event: abs((event.day - since).days), default=None)


LOOKS: dict[str, tuple[str, ...]] = {
    "other-home": (),
    "own-meter": (),
    "backup-heat": ("heating-rise",),
    "panels": ("generation-fall",),
    "done": (),
    "noted": (),
}
"""What a line of the diary may tell since a rise began, and the causes that it must be of; none for any."""
_NOT = r"(?:\bnot\b|n't\b|\bnever\b)"
_WORDS = {
    "other-home": re.compile(
        rf"\bmeter\b[^.]*{_NOT}[^.;]*\b(?:follow|react|respond|change|speed|move)"
        r"|\bmeter\b[^.;]*\b(?:follow|count|run|move|turn|react|respond)\w*\b[^.]*"
        r"\b(?:neighbo|next door|other (?:home|unit|flat|apartment))",
        re.I,
    ),
    "own-meter": re.compile(
        r"\bmeter\b[^.;]*\b(?:follow|speeds? up|sped up|react|respond|stood still|stops? when)", re.I
    ),
    "backup-heat": re.compile(
        r"(?<!no )(?<!not )(?<!never )\b(?:aux|auxiliary|em(?:ergency)?) ?heat"
        rf"|\boutdoor unit\b[^.;]*(?:{_NOT}|\bstands?\b|\bstood\b)",
        re.I,
    ),
    "panels": re.compile(
        r"\binverter\b[^.;]*\b(?:fault|error|red|off|dark|dead|offline|nothing|zero|0|less|alarm)\b", re.I
    ),
    "done": re.compile(
        r"\b(?:repair|fix|mend|replac|remov|unplug|disconnect|clean|seal|refill)\w*\b"
        r"|\b(?:turned|switched|left|shut|set)\b[^.;]*\b(?:off|back|down)\b",
        re.I,
    ),
}
"""Words by which a line tells of a look asked for here, or of something done."""
DONE = ("repair", "removed-load", "replaced", "thermostat")
"""Kinds of a line that tells of something done."""
OF_A_LOOK = (*DONE, "other")


@dataclass(frozen=True, slots=True)
class Looked:
    """What the diary tells since a rise began: a look made, or something done."""

    code: str
    event: Event


def looked(house: House, rows: Sequence[Period], cause: Cause | None) -> Looked | None:
    """Return the diary's last line, since a cause began, that tells of a look or of something done.

    Parameters
    ----------
    rows : sequence of Period
        Where no day is known on which the cause began, lines since the last bill began count.
    cause : Cause or None
        The likeliest.

    Returns
    -------
    Looked or None
        What was done, or is only noted, counts in the days of the last bill and after it.
    """
    last = max((row.start for row in rows), default=None)
    if last is None:
        return None
    found = []
    for event in house.events:
        code = _look_of(event, cause)
        began = cause.since if cause is not None and cause.since and code in ("other-home", "own-meter") else last
        if code and event.day > began:
            found.append(Looked(code, event))
    return max(found, key=lambda one: (one.code != "noted", one.event.day), default=None)


def _look_of(event: Event, cause: Cause | None) -> str:
    text = " ".join(part for part in (event.load, event.note) if part)
    if event.kind not in OF_A_LOOK or not text:
        return ""
    for code, words in _WORDS.items():
        of = LOOKS[code]
        if words.search(text) and (not of or (cause is not None and cause.code in of)):
            return code
    return "done" if event.kind in DONE else "noted"


def _far_too_small(event: Event, cause: Cause) -> bool:
    """Whether a line names a new thing that, never switched off, takes far less than what is seen."""
    most = never_off_kwh_per_day(event.load or event.note) if event.kind == "new-load" else None
    if most is None:
        return False
    if cause.unit == "W":
        return 0.024 * (cause.size or 0.0) > most
    acts = sum(abs(kwh) > 1.0 for kwh in cause.pattern_kwh)
    return cause.unit == "%" and abs(cause.kwh or 0.0) > BILL_DAYS * acts * most


def _told(house: House, weighing: Weighing | None, *, by_usual: bool) -> Event | None:
    if weighing is None or not house.events:
        return None
    rises = (*LASTING_KINDS, *WEATHER_KINDS, "single-high")
    # beside one high bill something that stays may be as likely, which the diary names
    lasting = () if by_usual or weighing.chance(*LASTING_KINDS) < LIKELY else (LASTING_KINDS,)
    for kinds in (rises, *lasting):
        which = _likeliest(weighing, kinds)
        if which is None:
            continue
        for event in house.events:
            of_then = _of_then(event, weighing, which, by_range=not by_usual)
            if of_then and _large_enough(event, house, weighing, which, by_usual=by_usual):
                return event
    return None


def _likeliest(weighing: Weighing, kinds: Sequence[str]) -> int | None:
    acts = np.where(weighing.kinds(*kinds), weighing.posterior.acts, 0.0)
    return int(np.argmax(acts)) if acts.size and acts.any() else None


def _of_then(event: Event, weighing: Weighing, which: int, *, by_range: bool) -> bool:
    """Whether a line is of a kind that accounts for a rise, and of the time at which it began, or may have begun."""
    found, code = weighing.found, weighing.found.code(which)
    of_one_bill = code == "single-period" and event.kind == "new-load" and event.until is not None
    if not of_one_bill and code not in ACCOUNTS_FOR.get(event.kind, ()):
        return False
    if abs(event.day.toordinal() - found.start[which]) <= EVENT_DAYS:
        return True
    if not by_range or event.kind != "new-load" or of_one_bill:
        return False
    low, high = between(weighing, np.flatnonzero(CODE_OF_KIND[found.kind_index] == CODES.index(code)))
    return low is not None and high is not None and low <= event.day <= high


def large_enough_to_date(event: Event, per_day: float) -> bool:
    """Whether a line names something new that, never switched off, is a part of a home's use [kWh/d] that shows."""
    most = never_off_kwh_per_day(event.load or event.note)
    return event.kind == "new-load" and (most is None or most >= DATES_FROM * per_day)


def _large_enough(event: Event, house: House, weighing: Weighing, which: int, *, by_usual: bool) -> bool:
    """Whether what a line names could take what the rise takes; a thing nobody knows could, and ends no question."""
    if event.kind != "new-load" or any(load.name == event.load for load in house.loads):
        return True
    name = event.load or event.note
    most = most_kwh_per_day(name) if by_usual else never_off_kwh_per_day(name)
    if most is None:
        return not (by_usual and name) or bool(find(name))
    mean, _, _ = sizes(weighing.data, weighing.candidates, (which,))
    added = weighing.candidates.columns[: int(weighing.judged.sum()), which] * float(mean[0])
    days = weighing.model.days[weighing.judged][np.abs(added) > 0.0]
    return float(added.sum()) <= (AT_MOST if by_usual else 1.0) * most * max(float(days.sum()), 1.0)
