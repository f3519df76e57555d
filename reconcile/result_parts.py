"""What an answer is made of: periods, causes, steps, the verdict; frozen values, energy in kWh."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Literal

from reconcile.house import Load
from reconcile.kinds import CauseCode, Decision, Flag, Hazard
from reconcile.records import dataclass


@dataclass(frozen=True, slots=True)
class Period:
    """One billing period, weighed; what could not be judged is None.

    Attributes
    ----------
    start, end : date
    days : int
        [d]
    billed_kwh : float or None
        [kWh]
    flag : Flag
        ``within``, ``over``, ``under`` or ``not-judged``: follows from ``usual_low_kwh`` and ``usual_high_kwh`` as they
        stand here.
    why_not_judged : str or None
    expected_kwh, low_kwh, high_kwh : float or None
        From the load list alone, with limits that hold one bill at 95 % [kWh].
    usual_kwh, usual_low_kwh, usual_high_kwh : float or None
        From the list and all the other bills, with limits that hold all the bills of a house together at the coverage
        asked for (95 %) [kWh].
    excess_kwh : float or None
        Billed less usual [kWh].
    excess_amount : Decimal or None
        The same in money.
    read_type : {'actual', 'estimated', 'customer'}
        Of the closing reading.
    part_of : int or None
        Index of the cause whose lasting rise or fall the bill belongs to; its flag is its own all the same.
    """

    start: date
    end: date
    days: int
    billed_kwh: float | None
    flag: Flag
    why_not_judged: str | None
    expected_kwh: float | None
    low_kwh: float | None
    high_kwh: float | None
    usual_kwh: float | None
    usual_low_kwh: float | None
    usual_high_kwh: float | None
    excess_kwh: float | None
    excess_amount: Decimal | None
    read_type: str = "actual"
    part_of: int | None = None


@dataclass(frozen=True, slots=True)
class OneOf:
    """One of the bills that a cause of single bills may be about."""

    period: int
    """Its index."""
    since: date
    """First day of the bill."""
    probability: float
    """That the cause acts on this bill."""
    kwh: float
    """What it would add to the bill [kWh]; negative where the bill would be low."""


@dataclass(frozen=True, slots=True)
class Cause:
    """An inference: a cause that may act, the chance that it does, and its size if it does.

    Attributes
    ----------
    code : str
        As :func:`reconcile.priors` lists them, or ``none``.
    probability : float
        That it acts, 0 to 1; several causes may.
    since : date or None
        First day; an old meter's error has no known beginning.
    size, size_low, size_high : float or None
        Size in ``unit`` and its 95 % limits, where the cause acts.
    unit : {'%', 'W', 'kWh', ''}
        Of the meter's registration or of the use it acts on, of a load, or of one bill.
    text : str
    kwh : float or None
        Energy it would account for over the bills shown [kWh].
    pattern_kwh : tuple of float
        The same, period by period [kWh].
    until : date or None
        Day on which it ended, where it came and went.
    since_low, since_high : date or None
        Days between which it began (of an old meter's error: ended) with 95 %, where it began at all; None where it
        acts all along or is about single bills.
    grew_until : date or None
        Day until which a load grew to the size stated, by interval data, where it has stayed so since.
    one_of : tuple of OneOf
        The bills that a cause of single bills may be about, the likeliest first, where there are several.
    """

    code: CauseCode | Literal["none"]
    probability: float
    since: date | None
    size: float | None
    unit: str
    text: str = ""
    size_low: float | None = None
    size_high: float | None = None
    kwh: float | None = None
    pattern_kwh: tuple[float, ...] = ()
    until: date | None = None
    since_low: date | None = None
    since_high: date | None = None
    grew_until: date | None = None
    one_of: tuple[OneOf, ...] = ()

    @property
    def turn(self) -> date | None:
        """Day on which the bills changed by it: the one from which it acts, else the one until which."""
        return self.since if self.since is not None else self.until

    @property
    def seasonal(self) -> bool:
        """Whether it goes by the seasons: one bill holds twice its mean, or more."""
        each = self.pattern_kwh
        return sum(each) > 0.0 and max(each) * len(each) > 2.0 * sum(each)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a step may show, and what follows from it."""

    outcome: str
    then: str


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do.

    Attributes
    ----------
    text : str
    hazard : Hazard
        How near it comes to live parts; steps stand in this order.
    cautions : tuple of str
        Stand before the step.
    code : str
        Of the check or the request: what the step is.
    minutes : int
        Time it takes.
    for_cause : str or None
        Code of the cause it belongs to; None where it belongs to the billing records or to the data.
    would_show : tuple of Outcome
    optional : bool
        Whether it would not change what to do, and is only a cheap way to be sure.
    worth : float
        Expected saving of the wrong acts that it would prevent, in the unit of :mod:`reconcile.costs`.
    asks : str or None
        Key of the request to the utility that it makes, which the letter makes too.
    """

    text: str
    hazard: Hazard
    cautions: tuple[str, ...] = ()
    code: str = ""
    minutes: int = 0
    for_cause: str | None = None
    would_show: tuple[Outcome, ...] = ()
    optional: bool = False
    worth: float = 0.0
    asks: str | None = None


@dataclass(frozen=True, slots=True)
class Over:
    """The bills marked high (or low: then below 0), added up as the table shows them.

    Attributes
    ----------
    bills : int
    kwh : float
        [kWh]
    amount : Decimal or None
        In the house's currency, to the whole unit.
    """

    bills: int
    kwh: float
    amount: Decimal | None


@dataclass(frozen=True, slots=True)
class Came:
    """A load of the list that came between two bills, and what it makes of the later one [kWh]."""

    load: Load
    kwh: float


@dataclass(frozen=True, slots=True)
class HiddenError:
    """An error of the meter that may be there unseen.

    By the bills and by the steps it is one that began within them: an error that was there before the first bill is
    alike in all of them, and no bound on it follows. By a run it is any error of the meter that hangs there now.
    """

    percent: float | None
    """How large it may be [%]; None where it may be of any size looked at."""
    by: Literal["bills", "run", "steps"]
    """What leaves no more: the bills, a run with a known load, or the steps of the appliances in the interval data."""


@dataclass(frozen=True, slots=True)
class HiddenWeather:
    """Heating or cooling that may have taken more in its last season on record, unseen by the bills."""

    follows: Literal["heating", "cooling"]
    more_percent: float | None
    """How much more than it should [%]; None where it may be several times as much."""
    of_use_percent: float | None
    """The same as a part of all use in that season [%]."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """The decision, what it rests on, and what to do, in order of hazard.

    Attributes
    ----------
    decision : Decision
    rule : str
        Which rule of :mod:`reconcile.decide.rules` decided.
    headline : str
    reasons : tuple of str
    next_steps : tuple of Step
    meter_line : str
        The chance that the meter is fast, and what these bills could have shown, in one line.
    field_test_warranted : bool
    cannot_tell : bool
        Something stands out, and no cause reaches one half.
    blind : bool
        Nothing stands out, but these bills would look alike with a rise by half.
    meter_fast_probability, meter_slow_probability : float or None
        That the meter now on the wall registers more, or less, than is used; None where no bill was judged.
    meters_disagree_probability : float or None
        That the old and the new meter of an exchange disagree, whichever of the two is wrong.
    meter_open : tuple of str
        What the records leave open first, ``home`` (whose meter the bills are of) or ``multiplier``: while it is not
        empty, the chances of a wrong meter say no more than that the bills changed in proportion.
    over, under : Over
    smallest_visible_meter_error_percent, smallest_visible_constant_watts : float or None
    could_hide : HiddenError
        The largest error of the meter that began within the bills and may be there unseen, bills, runs and interval
        data together; one that is older only a run bounds.
    weather_could_hide : tuple of HiddenWeather
        How much more heating, and cooling, may have taken in its last season, unseen by the bills.
    requests : tuple of str
        Keys of what is asked of the utility: the steps that ask, and the letter, no more and no less.
    """

    decision: Decision
    rule: str
    headline: str
    reasons: tuple[str, ...]
    next_steps: tuple[Step, ...]
    meter_line: str
    field_test_warranted: bool
    cannot_tell: bool
    meter_fast_probability: float | None
    meter_slow_probability: float | None
    over: Over
    smallest_visible_meter_error_percent: float | None
    smallest_visible_constant_watts: float | None = None
    blind: bool = False
    under: Over = Over(0, 0.0, None)
    meters_disagree_probability: float | None = None
    meter_open: tuple[str, ...] = ()
    could_hide: HiddenError = HiddenError(None, "bills")
    weather_could_hide: tuple[HiddenWeather, ...] = ()

    @property
    def requests(self) -> tuple[str, ...]:
        """Keys of what the steps ask of the utility: what the letter asks, no more and no less."""
        return tuple(dict.fromkeys(step.asks for step in self.next_steps if step.asks is not None))


@dataclass(frozen=True, slots=True)
class LoadShare:
    """One load of the list (or the unlisted rest) over all periods: before and after hearing the bills.

    Attributes
    ----------
    load : str
    expected_kwh : float
        By the list [kWh].
    reconciled_kwh, low_kwh, high_kwh : float
        As the bills make it likely, with 95 % limits [kWh].
    share_of_doubt : float
        Share of the doubt about the meter that is this load's, 0 to 1.
    effort : str
        How it would be measured: ``plug-in meter for a week`` ...
    """

    load: str
    expected_kwh: float
    reconciled_kwh: float
    low_kwh: float
    high_kwh: float
    share_of_doubt: float
    effort: str = ""


@dataclass(frozen=True, slots=True)
class Visible:
    """What these bills could have shown with 90 % probability, by where it begins.

    Attributes
    ----------
    onset : tuple of int
        Index of the first period affected.
    meter_percent : tuple of float or None
        Smallest error of the meter [%].
    constant_watts : tuple of float or None
        Smallest load round the clock [W].
    """

    onset: tuple[int, ...]
    meter_percent: tuple[float | None, ...]
    constant_watts: tuple[float | None, ...]


NARROWS, NOTICED_PERCENT = 0.9, 50.0
"""Part of its doubt that a measurement leaves at most, and the meter error [%] it must then tell, to be worth telling
(our choice)."""


@dataclass(frozen=True, slots=True)
class Measure:
    """What to measure next: the loads in order of gain for effort and how narrow the doubt becomes after each.

    Attributes
    ----------
    load, how : str
    doubt_percent_after : float
        Smallest visible meter error [%] once this and all those above it are measured.
    doubt_percent_before : float or None
        The same once only those above it are.
    """

    load: str
    how: str
    doubt_percent_after: float
    doubt_percent_before: float | None = None

    @property
    def helps(self) -> bool:
        """Whether it is worth telling: it narrows clearly, to a meter error that anybody would notice."""
        before = self.doubt_percent_before
        clearly = before is None or self.doubt_percent_after <= NARROWS * before
        return clearly and self.doubt_percent_after <= NOTICED_PERCENT
