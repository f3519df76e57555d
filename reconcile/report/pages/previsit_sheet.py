"""An estimate before the visit: as text for the terminal, and as a sheet of one page to take along."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reconcile.records import dataclass
from reconcile.report.pages.templating import environment
from reconcile.rounding import step_of, to_step
from reconcile.say import Voice, clean
from reconcile.texts import estimate_words as words
from reconcile.texts import tell
from reconcile.texts.money import MISSING
from reconcile.voices import voice_of

if TYPE_CHECKING:
    from reconcile.previsit import Estimate, Expected, Part

MOST_LOADS_ON_PAGE = 10
"""Rows of loads that fit the page; the smallest are left to the workbook."""


@dataclass(frozen=True, slots=True)
class Typed:
    """What a person types of themselves for the head of the sheet."""

    auditor: str = ""
    license: str = ""


def estimate_text(made: Estimate) -> str:
    """Return the estimate for a terminal."""
    voice = voice_of(made.house)
    lines = [voice.fill(words.TITLE, {"name": clean(made.house.name)}), "", *_head(made, voice), ""]
    priced = made.months[0].amount is not None
    heads = [*words.HEADINGS, *(words.MONEY_HEADINGS if priced else ())]
    lines.append(f"{heads[0]:10s}" + "".join(f"{head:>11s}" for head in heads[1:]))
    lines += [f"{row[0]:10s}" + "".join(f"{cell:>11s}" for cell in row[1:]) for row in _rows(made, voice)]
    lines += ["", words.ASK, *(f"- {words.QUESTIONS[code]}" for code in made.ask)]
    if made.measure:
        lines += ["", words.MEASURE, *(f"- {_measure(part, voice)}" for part in made.measure)]
    return "\n".join([*lines, "", words.SAFETY, words.NEXT])


def sheet_html(made: Estimate, typed: Typed | None = None) -> str:
    """Return the sheet as one HTML page that prints on one page.

    Parameters
    ----------
    typed : Typed, optional
        Name and license of the auditor, as typed; lines to fill in stand where they are empty.
    """
    typed = typed or Typed()
    voice = voice_of(made.house)
    priced = made.months[0].amount is not None
    shown = made.parts[:MOST_LOADS_ON_PAGE]
    page: str = (
        environment()
        .get_template("previsit.html")
        .render(
            words=words,
            title=voice.fill(words.TITLE, {"name": clean(made.house.name)}),
            typed=typed,
            head=_head(made, voice),
            headings=[*words.HEADINGS, *(words.MONEY_HEADINGS if priced else ())],
            rows=_rows(made, voice),
            ask=[words.QUESTIONS[code] for code in made.ask],
            measure=[_measure(part, voice) for part in made.measure],
            loads=[_load(part, voice) for part in shown],
            more=len(made.parts) - len(shown),
        )
    )
    return page


def _head(made: Estimate, voice: Voice) -> list[str]:
    year = made.year
    figures: dict[str, Any] = {
        name: voice.kwh(to_step(kwh, step_of(min(year.high_kwh - year.expected_kwh, year.expected_kwh - year.low_kwh))))
        for name, kwh in (("kwh", year.expected_kwh), ("low", year.low_kwh), ("high", year.high_kwh))
    }  # fmt: skip
    lines = [voice.fill(words.YEAR, figures)]
    if year.amount is not None:
        lines.append(voice.fill(words.MONEY, dict(zip(("amount", "low", "high"), _money(year, voice), strict=True))))
    elif made.no_price is not None:
        why = made.no_price
        told = tell(voice, MISSING, why.code, {"charge": why.charge, "windows": ", ".join(why.windows)})
        lines.append(voice.fill(words.NO_PRICE, {"why": told}))
    else:
        lines.append(words.NO_TARIFF)
    if not made.weathered and any(load.follows in ("heating", "cooling") for load in made.house.loads):
        lines.append(words.NO_WEATHER)
    return lines


def _rows(made: Estimate, voice: Voice) -> list[list[str]]:
    return [_row(month, voice) for month in made.months]


def _row(month: Expected, voice: Voice) -> list[str]:
    step = step_of(min(month.high_kwh - month.expected_kwh, month.expected_kwh - month.low_kwh))
    cells = [f"{month.start:%B}"]
    cells += [voice.number(x, step) for x in (month.expected_kwh, month.low_kwh, month.high_kwh)]
    return cells + _money(month, voice)


def _money(expected: Expected, voice: Voice) -> list[str]:
    """Write an amount and its limits, no finer than the limits are wide; nothing where no bill is worked out."""
    amounts = [float(x) for x in (expected.amount, expected.low_amount, expected.high_amount) if x is not None]
    if not amounts:
        return []
    amount, low, high = amounts
    step = max(step_of(min(high - amount, amount - low)), 1.0)
    return [voice.about_money(to_step(x, step)) for x in amounts]


def _measure(part: Part, voice: Voice) -> str:
    name = words.REST if part.load is None else clean(part.load.name)
    share = f"{voice.number(100.0 * part.share_of_doubt)} %"
    return voice.fill(words.MEASURE_LINE, {"load": name, "how": part.how, "share": share})


def _load(part: Part, voice: Voice) -> list[str]:
    name = words.REST if part.load is None else clean(part.load.name)
    count = "" if part.load is None else str(part.load.count)
    step = step_of(part.kwh * part.within_percent / 100.0)
    return [name, count, voice.number(part.kwh, step), voice.percent(part.within_percent)]
