"""What the signals of interval data say: each what it sees, and what would have moved it and what not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, Protocol

from reconcile.say import Voice, listed
from reconcile.texts import Figures, Sentence, tell


class Running(Protocol):
    """When and how a load runs."""

    @property
    def begins(self) -> str: ...
    @property
    def ends(self) -> str: ...
    @property
    def hours(self) -> float: ...
    @property
    def by_standard_time(self) -> bool: ...
    @property
    def varies(self) -> bool: ...
    @property
    def days_a_week(self) -> float | None: ...
    @property
    def rests(self) -> Sequence[tuple[date, date]]: ...
    @property
    def day(self) -> date | None: ...


def standard_text(by_standard_time: bool) -> str:
    """Say after hours of the day that they are those of a timer which nobody sets to summer time."""
    return " by standard time (an hour later on the clock in summer)" if by_standard_time else ""


def in_season(runs: Running) -> bool:
    """Whether a load rests longer than it runs: it is told by the times in which it does, and by no first day."""
    if runs.day is None or not runs.rests:
        return False
    rested = sum((end - begin).days for begin, end in runs.rests)
    return 2 * rested > (runs.rests[-1][1] - runs.day).days


def running_text(voice: Voice, runs: Running, until: date | None = None) -> str:
    """Say after watts when they are drawn, and when not, and that they are those of the mean day.

    Parameters
    ----------
    until : date, optional
        First day on which it did not run any more.
    """
    if runs.days_a_week is not None:
        return (
            f" on some days, about {voice.number(runs.days_a_week)} a week, for about {voice.number(runs.hours)} "
            f"{'hour' if round(runs.hours) == 1 else 'hours'} each, most often from about {runs.begins} on"
        )
    uneven = " on average, more on some days than on others," if runs.varies else ""
    if in_season(runs):
        begins, ends = [runs.day, *(end for _, end in runs.rests)], [*(begin for begin, _ in runs.rests), until]
        spans = [
            voice.fill(
                "since {begin:day}" if end is None else "from {begin:day} to {end:day}", {"begin": begin, "end": end}
            )
            for begin, end in zip(begins, ends, strict=True)
        ]
        rests = f", but only {listed(spans)}"
    else:
        none = " and ".join(f"from {voice.day(begin)} to {voice.day(end)}" for begin, end in runs.rests)
        rests = f" (but not {none})" if none else ""
    return f"{uneven} from {runs.begins} to {runs.ends} every day{standard_text(runs.by_standard_time)}{rests}"


def _when(figures: Figures) -> str:
    """The day, with its limits where it is not known to the day."""
    if figures["low"] == figures["high"]:
        return "on {day:short_day}"
    return "on {day:short_day} (between {low:short_day} and {high:short_day})"


def _dated(template: str) -> Sentence:
    """Fill ``WHEN`` with the day, and name the listed loads that fit, where there are any."""

    def sentence(voice: Voice, figures: Figures) -> str:
        fits = figures.get("fits") or ()
        more = f" What is on the list with about as many watts: {', '.join(fits)}." if fits else ""
        return voice.fill(template.replace("WHEN", _when(figures)), figures) + more

    return sentence


def _spans(what: str) -> Sentence:
    def sentence(voice: Voice, figures: Figures) -> str:
        told = [
            voice.short_day(a) if a == b else f"{voice.short_day(a)} to {voice.short_day(b)}"
            for a, b in figures["spans"]
        ]
        return f"{what}: {', '.join(told)}."

    return sentence


def _clock(voice: Voice, figures: Figures) -> str:
    until, runs = " to {until:short_day}" if figures.get("until") else "", figures["runs"]
    since = "" if in_season(runs) else f", from {_when(figures).removeprefix('on ')}{until}"
    why = (
        "The hours beside did not rise, so it is something on a timer, and not the meter or a load round the clock."
        if runs.days_a_week is None
        else "There were no runs of that power before, so it is something that came, and not the meter or a load round "
        "the clock."
    )
    return voice.fill(
        f"About {{watts:watts}} more runs{running_text(voice, runs, figures.get('until'))}{since}. {why}", figures
    )


_ZONES = {
    "inside": "inside its limits",
    "outside": "outside its limits",
    "cannot-tell": "and that cannot tell whether it is inside its limits",
}


def _planned(voice: Voice, figures: Figures) -> str:
    one = figures["nights"] == 1
    when = "one night ({first:short_day})" if one else "{nights} nights ({first:short_day} to {last:short_day})"
    apart = figures["apart"]
    days = listed(voice.short_day(day) for day in apart)
    spoilt = (
        f" Something else seems to have run in the night of {days}: make another in its place."
        if len(apart) < figures["nights"] / 2.0
        else " Its nights differ more than this home's other nights do: something else seems to have run in some."
    )
    return voice.fill(
        f"A heater on a plug-in meter ran {{hours:exact}} hours on {when} and took {{reference}} kWh; the interval "
        "data rose by {read} kWh in those hours. So the meter registers {percent} % of what is used (give or take "
        f"{{expanded}}), {_ZONES[figures['zone']]}.{spoilt if apart else ''}",
        figures,
    )


SIGNALS: dict[str, Sentence] = {
    "planned-run": _planned,
    "gain-same": "The steps in which the house's own appliances switch stayed the same, give or take {doubt:percent}. A "
    "meter error that began in these data would have changed all of them; loads and habits change none.",
    "gain-changed": _dated(
        "The steps in which the house's own appliances switch changed by {percent:percent} WHEN, give or take "
        "{doubt:percent}. A meter error that began then changes all of them; loads and habits change none."
    ),
    "gain-unsure": "The steps in which the house's own appliances switch tell a change of the meter only to within "
    "{doubt:percent}.",
    "base-same": "What runs round the clock made no step. A new load that never rests would have made one; a meter error "
    "hardly does.",
    "base-rose": _dated("What runs round the clock rose by about {watts:watts} WHEN."),
    "base-fell": _dated("What runs round the clock fell by about {watts:watts} WHEN."),
    "clock": _clock,
    "known-load": "{load} is on the list with {listed:watts} and is seen to switch {seen:watts}: the meter registered "
    "{percent:percent} of it, give or take {doubt:percent}.",
    "away": _spans("Days that look like nobody at home"),
    "busy": _spans("Days that took far more than their weather and weekday account for"),
}
"""Sentences by signal."""


def signal_lines(found: Sequence[tuple[str, Mapping[str, Any]]], voice: Voice) -> list[str]:
    """Say what each signal says.

    Parameters
    ----------
    found : sequence of (str, mapping)
        Key of :data:`SIGNALS`, and the figures of its sentence.

    Examples
    --------
    >>> signal_lines([("gain-unsure", {"doubt": 0.12 * 100})], Voice())
    ["The steps in which the house's own appliances switch tell a change of the meter only to within 12 %."]
    """
    return [tell(voice, SIGNALS, key, figures) for key, figures in found]
