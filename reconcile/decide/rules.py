"""The decision: one table of rules, tried in order; the first that holds decides, and says by its name why.

Danger comes first, then what a test has shown, whether there is enough to go on, what the billing records settle, what
may still be acting, what the list lacks, and last that nothing is left over. No rule is walked to fit: every threshold
comes from :mod:`reconcile.costs`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields

from reconcile.costs import COSTS, Costs
from reconcile.kinds import Decision
from reconcile.records import dataclass
from reconcile.weigh.level import LEVEL_KINDS, level, level_size
from reconcile.weigh.places import CREEPING_KINDS, TIMED_KINDS
from reconcile.weigh.weighed import Weighing

OFF_LEVEL = 1.96
"""Standard uncertainties of the level of all bills beyond which it is said to be outside the list's own 95 % limits."""

FEWEST = 3
"""Fewer periods than this cannot predict one another."""

FEWEST_BARE = 6
"""The same where there is no list of loads."""

FAST_KINDS = ("meter-step", "meter-exchange", "meter-drift", "meter-always")
SLOW_KINDS = ("meter-low", "meter-leg", "meter-low-always", "meter-slowing", "meter-low-exchange")
EXCHANGE_KINDS = ("meter-exchange", "old-meter-slow")
STEADY_KINDS = ("constant-load", "cold-load", "hot-water-leak", "drift")
WEATHER_KINDS = ("heating-rise", "cooling-rise", "heating-setting", "cooling-setting", "heating-spell", "cooling-spell")
FALL_KINDS = (*SLOW_KINDS, "load-gone", "habit-fall", "house-left")
LASTING_KINDS = (
    "meter-step",
    "meter-exchange",
    "meter-drift",
    *STEADY_KINDS,
    *TIMED_KINDS,
    "clock-load",
    "habit-step",
    "old-meter-slow",
)
"""Rises that bills tell poorly apart: where one of them is likely, a cheap look at the others is worth it."""

GROUPS = {
    "fast": FAST_KINDS,
    "slow": SLOW_KINDS,
    "changed": ("meter-step", "meter-exchange", "meter-low", "meter-leg", "meter-low-exchange"),
    "creeping": CREEPING_KINDS,
    "exchange": EXCHANGE_KINDS,
    "steady": STEADY_KINDS,
    "weather": WEATHER_KINDS,
    "generation": ("generation-fall",),
    "alike": (*(kind for kind in LASTING_KINDS if kind not in (*TIMED_KINDS, "clock-load")), *WEATHER_KINDS),
    "falls": FALL_KINDS,
    "swap": ("swap", "swap-back", "catch-up", "trued-up"),
    "high": ("single-high",),
    "always": ("meter-always",),
    "level": LEVEL_KINDS,
}
"""Kinds of each of :class:`Chances` that is of kinds alone; loads of a season are added to what is alike."""


@dataclass(frozen=True, slots=True)
class Chances:
    """Chances of the groups of causes that the decision turns on, each 0 to 1, and the level of all bills."""

    none: float
    fast: float
    """The meter now on the wall registers more than is used."""
    slow: float
    changed: float
    """Its registration changed at once within these bills, up or down: it does not lean on the list."""
    creeping: float
    """The same by and by: so does the use of a household, in ways that no cause stands for."""
    exchange: float
    """The old and the new meter disagree: either of the two readings of one news."""
    steady: float
    """A round-the-clock load that is still there; one that was there all along counts where it was read at night."""
    timed: float
    """A load for a season that is still there at the last bill; one that is gone leaves nothing to look for."""
    weather: float
    generation: float
    """The house's own panels make less."""
    alike: float
    """Any rise that is still there, of weather too."""
    falls: float
    swap: float
    high: float
    """One bill alone is high."""
    late: float
    """One of the last two bills alone is high, which may be the beginning of something."""
    leading: float
    """The likeliest cause's."""
    always: float
    """A meter fast since before the first bill."""
    level: float
    """All the bills stand above the list: such a meter, or a list that is short."""
    far_below: float
    """All the bills stand far below it."""
    level_percent: float
    """How far all the bills stand above the list, the causes that begin and last taken out [%]."""
    level_score: float
    """The same in standard uncertainties."""
    borne_out: float
    """How much better the sizes of the house's own appliances in interval data fit a changed meter than none (chi
    squared); infinite where no such data are heard."""
    level_size: float
    """What such a meter or a short list adds where it is there, as a part of the list."""

    @property
    def wrong(self) -> float:
        """Chance that the meter now on the wall is wrong, or differs from the one before it."""
        return min(1.0, self.fast + self.slow + max(self.exchange - self.fast, 0.0))

    @property
    def outside(self) -> float:
        """Chance of what a look outside would find: a meter or a load that is there now."""
        return min(1.0, self.fast + self.steady)


@dataclass(frozen=True, slots=True)
class Site:
    """What the readings on site say, judged once by :mod:`reconcile.meter`."""

    run: str = ""
    """Of the known-load runs: ``fast``, ``slow``, ``inside``, ``cannot-tell``; empty where none was read."""
    counts_with_main_off: bool = False
    read: bool = False
    """Whether any reading was entered: quiet, main off, or a run."""
    by_list: bool = False
    """Whether the zone is of a listed load in the data, by its listed watts, and of no run."""
    held: str = ""
    """Side, ``fast`` or ``slow``, of known-load runs that one slip of the pen would also explain."""
    borne_out: bool = True
    """Whether such runs and the bills show an error of about one size."""
    by_constant: bool = False
    """Whether runs that agree rest on the Wh a flash alone, which may be written wrong."""
    leans: bool = False
    """Known-load runs cannot tell, and yet likely lie outside the meter's limits."""

    @property
    def again(self) -> bool:
        """Whether a known load was run that tells nothing by itself: it is to be run again."""
        return bool(self.held) or (self.run == "cannot-tell" and not self.by_list)


@dataclass(frozen=True, slots=True)
class Case:
    """Everything a decision rests on, in numbers and codes."""

    danger: bool
    judged: int
    listed: bool
    odds: Chances | None
    site: Site
    settled: bool
    """A fact of the records can account for a bill that stands out."""
    settles_all: bool
    """Such facts cover every bill that stands out, or the whole record."""
    owed: bool
    """Money that is not this period's use, and enough of it to ask."""
    high: int
    """Bills over their range."""
    apart: int
    """Those of them that are no part of a likely lasting cause, nor beside one that is."""
    low: int
    low_open: bool
    """A low bill's neighbor is high by as much, or no readings bear its kWh out: it may be misread or mistyped."""
    told: bool
    """The diary tells of the likeliest rise."""
    above_plate: bool = False
    """A listed load switches more in the data than its plate leaves room for."""
    resized: bool = False
    """The house's own appliances switch more since a date, and the diary tells of none that was replaced."""
    whose: bool = False
    """The records leave open which home's meter, or which multiplier, the bills are of: a test would not tell."""
    tied: bool = False
    """The interval data add up to every bill that stands out: no reading of them is off."""
    emptied: bool = False
    """Most of what people use likely went, and the diary tells of nobody who did."""
    costs: Costs = COSTS

    @property
    def cleared(self) -> bool:
        """A known load was run, and what it leaves of a wrong meter now on the wall is not worth another step."""
        if self.site.run == "inside":
            return True
        return (
            self.site.run == "cannot-tell"
            and not self.site.leans
            and self.odds is not None
            and self.odds.fast + self.odds.slow < self.costs.open_at
        )

    @property
    def stands_out(self) -> bool:
        """Whether anything asks for an explanation."""
        return self.odds is not None and (self.high + self.low > 0 or self.odds.none < self.costs.likely)

    @property
    def cannot_tell(self) -> bool:
        """Something stands out, no fact settles it, and no cause reaches one half."""
        return (
            self.odds is not None and self.stands_out and not self.settles_all and self.odds.leading < self.costs.likely
        )


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the table: what it decides, when, and why."""

    name: str
    decision: Decision
    why: str
    when: Callable[[Case, Chances], bool]


BORNE_OUT = 4.0
"""By how much (chi squared) the sizes of the house's own appliances must fit a changed meter better than any other
cause, where there are interval data, for a test to be asked for before a known load is run (our choice: two standard
uncertainties. Who lives there changes nights and days together, as a meter does, and hardly how large a kettle is)."""


def _few(case: Case) -> bool:
    return case.odds is None or case.judged < (FEWEST if case.listed else FEWEST_BARE)


def _open_meter(case: Case, odds: Chances) -> bool:
    if not case.site.read or case.site.run not in ("", "cannot-tell") or case.cleared:
        return False
    # a run that is held back leaves the question open, however little the bills say of the meter
    return bool(case.site.held) or case.site.leans or odds.wrong >= case.costs.open_at


def _lasting(case: Case, odds: Chances) -> bool:
    at = max(case.costs.likely, case.costs.look_at)
    if case.cleared:
        return odds.steady >= at
    if case.site.read:
        return odds.fast + odds.steady >= at or odds.exchange >= at
    likeliest = max(odds.steady + odds.changed + odds.creeping + odds.timed, odds.exchange)
    return odds.exchange >= at or (not case.told and likeliest >= at)  # no diary accounts for two meters that disagree


def _rivals(case: Case, odds: Chances) -> bool:
    if case.cleared or case.told:
        return False
    return odds.alike >= case.costs.likely and max(odds.outside, odds.exchange) >= case.costs.look_at


def _run_open(case: Case, odds: Chances) -> bool:
    if case.site.run == "cannot-tell":
        return odds.fast + odds.slow >= case.costs.test_at
    # a slip that the bills bear out is no slip
    return case.site.borne_out and {"fast": odds.fast, "slow": odds.slow}.get(case.site.held, 0.0) >= case.costs.test_at


def _above(case: Case, odds: Chances) -> bool:
    """Whether a week of measuring and a known load would save more than they cost, at the size that is seen."""
    size = max(min(odds.level_size, odds.level_percent / 100.0), 0.0) / case.costs.usual_error
    saved = (odds.always * case.costs.fast_left + (odds.level - odds.always) * case.costs.list_left) * size
    return case.listed and saved > case.costs.listing


def _odd(case: Case, odds: Chances) -> bool:
    misread = case.apart > 0 and odds.high + odds.swap >= case.costs.desk_at
    return (misread or case.low_open) and not (case.told or case.tied)


RULES: tuple[Rule, ...] = (
    Rule("danger", Decision.URGENT, "people before bills", lambda case, odds: case.danger),
    Rule(
        "main-off-counts", Decision.OUTSIDE_CHECK, "the meter counts with the main off, whatever the bills say",
        lambda case, odds: case.site.counts_with_main_off and case.site.run not in ("fast", "slow"),
    ),
    Rule(
        "run-outside", Decision.FIELD_TEST, "a known load showed the meter outside its limits, whatever the bills say",
        lambda case, odds: case.site.run in ("fast", "slow"),
    ),
    Rule(
        "few-and-settled", Decision.PAPERWORK, "too few bills to weigh, but the records themselves show something",
        lambda case, odds: _few(case) and (case.settled or case.owed),
    ),
    Rule("too-few", Decision.NOT_ENOUGH_DATA, "too few bills to predict one another", lambda case, odds: _few(case)),
    Rule(
        "records-account", Decision.PAPERWORK, "facts of the records cover every bill that stands out",
        lambda case, odds: case.settles_all and case.stands_out,
    ),
    Rule(
        "bills-alone", Decision.FIELD_TEST,
        "the meter stands out against every rival that is not the list itself, the diary tells of none, and the sizes "
        "of own appliances, where hours show them, bear it out",
        lambda case, odds: case.site.run != "inside" and not case.whose and not case.told
        and odds.changed >= case.costs.test_from_bills_at and odds.borne_out >= BORNE_OUT,
    ),
    Rule(
        "run-open", Decision.FIELD_TEST,
        "a known load was run, cannot tell by itself, and the bills say of the meter what it says",
        _run_open,
    ),
    Rule(
        "meter-slow", Decision.OUTSIDE_CHECK,
        "the meter likely registers too little, or that is the likeliest of all: back-billing may follow",
        lambda case, odds: case.site.run != "inside" and odds.slow >= case.costs.slow_open_at
        and odds.slow >= min(case.costs.likely, max(odds.none, odds.leading)),
    ),
    Rule(
        "generation", Decision.OUTSIDE_CHECK, "what is sent out fell: the house's own panels likely make less",
        lambda case, odds: odds.generation >= case.costs.likely and not case.told,
    ),
    Rule("lasting", Decision.OUTSIDE_CHECK, "a meter or a load that is there now is more likely than not", _lasting),
    Rule("rivals", Decision.OUTSIDE_CHECK, "a lasting rise, and a meter or a load may well be it", _rivals),
    Rule(
        "falls", Decision.OUTSIDE_CHECK,
        "use fell, and a slow meter may well be it; or hardly anybody is there any more, which is asked first",
        lambda case, odds: not case.site.read and odds.falls >= case.costs.likely
        and (odds.slow >= case.costs.slow_open_at or case.emptied),
    ),
    Rule("meter-open", Decision.OUTSIDE_CHECK, "the readings so far cannot clear the meter", _open_meter),
    Rule(
        "old-meter", Decision.PAPERWORK, "a known load clears the meter now on the wall: the one taken down was slow",
        lambda case, odds: case.cleared and odds.exchange >= case.costs.likely,
    ),
    Rule("settled", Decision.PAPERWORK, "a fact of the records is open", lambda case, odds: case.settled),
    Rule(
        "moved", Decision.PAPERWORK, "use likely moved between two bills: a reading may be off",
        lambda case, odds: odds.swap >= case.costs.desk_at and odds.swap + odds.high >= case.costs.likely
        and not case.tied and max(odds.swap, odds.high) >= odds.weather
        and (case.apart > 0 or max(odds.swap, odds.high) >= odds.none),
    ),
    Rule(
        "above-list", Decision.INVENTORY, "all the bills stand above the list, and by enough to be worth measuring",
        _above,
    ),
    Rule(
        "equipment", Decision.INVENTORY, "heating or cooling takes more for the same weather",
        lambda case, odds: odds.weather >= case.costs.measure_at and not case.told,
    ),
    Rule(
        "below-list", Decision.INVENTORY, "all the bills stand far below the list",
        lambda case, odds: case.listed and (odds.far_below >= case.costs.likely),
    ),
    Rule(
        "meter-always", Decision.OUTSIDE_CHECK,
        "the bills do not stand above the list, and yet the meter may well have been fast since before the first",
        lambda case, odds: case.listed and not case.cleared and odds.always >= case.costs.look_at,
    ),
    Rule(
        "late-bill", Decision.OUTSIDE_CHECK, "the last bill is high: it may be the beginning of something",
        lambda case, odds: case.high > 0 and not case.told and odds.late >= case.costs.likely
        and odds.outside >= case.costs.desk_at,
    ),
    Rule(
        "odd-bill", Decision.PAPERWORK,
        "a bill stands out that no lasting cause holds, and its reading is the cheapest thing to check",
        _odd,
    ),
    Rule("owed", Decision.PAPERWORK, "money that is not this period's use", lambda case, odds: case.owed),
    Rule(
        "resized", Decision.OUTSIDE_CHECK, "own appliances switch more: one was replaced, or the meter counts more",
        lambda case, odds: case.resized and not case.cleared and max(odds.fast, odds.exchange) >= case.costs.open_at,
    ),
    Rule(
        "meter-maybe", Decision.OUTSIDE_CHECK, "nothing stands out, and yet the meter may well be wrong",
        lambda case, odds: not case.cleared and max(odds.fast, odds.exchange) >= case.costs.look_at,
    ),
    Rule(
        "above-plate", Decision.OUTSIDE_CHECK, "a listed load switches more than its plate: that or the meter is off",
        lambda case, odds: case.above_plate and not case.cleared and not case.told,
    ),
    Rule("explained", Decision.EXPLAINED, "nothing is left that a check would settle", lambda case, odds: True),
)  # fmt: skip
"""In this order; the first that holds decides."""

_BLANK = {"none": 1.0, "borne_out": math.inf}


def decide(case: Case) -> Rule:
    """Return the rule that decides a case."""
    odds = case.odds or no_chances()
    return next(rule for rule in RULES if rule.when(case, odds))


def no_chances(**given: float) -> Chances:
    """Return chances that are all nothing but those given; ``none`` is 1.

    Examples
    --------
    >>> no_chances(fast=0.3).outside
    0.3
    """
    return Chances(**{field.name: 0.0 for field in fields(Chances)} | _BLANK | given)


def chances(weighing: Weighing, leading: float) -> Chances:
    """Gather the chances of the groups of causes, and the level of all bills against the list.

    Parameters
    ----------
    leading : float
        Chance of the likeliest cause told.
    """
    any_of = weighing.each_chance(GROUPS)
    late = weighing.kinds("single-high") & (weighing.found.start >= weighing.last_starts(2))
    here = weighing.kinds(*TIMED_KINDS, "clock-load") & ~weighing.gone()
    timed = float(weighing.posterior.acts[here].sum())
    above, score, below = level(weighing)
    return Chances(
        none=weighing.none,
        timed=timed,
        late=float(weighing.posterior.acts[late].sum()),
        leading=leading,
        far_below=below,
        level_percent=100.0 * above,
        level_score=score,
        level_size=level_size(weighing),
        borne_out=weighing.sizes_bear_out(*GROUPS["changed"]),
        **any_of
        | {
            "steady": any_of["steady"] + weighing.unlisted_at_night(*STEADY_KINDS),
            "alike": min(any_of["alike"] + timed, 1.0),
        },
    )
