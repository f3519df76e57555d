"""A letter to the billing desk: facts and figures, what is asked for, and nothing else."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from reconcile.report.words import clean, money, number, span
from reconcile.say import Voice
from reconcile.texts.findings import finding_text
from reconcile.texts.requests import REQUESTS

if TYPE_CHECKING:
    from reconcile.result import Period, Reconciliation

LETTER_COLUMNS = 78

PLACEHOLDERS = ("[Your name]", "[Service address]", "[Account number]", "[Date]")

TEST = (
    "Test the meter that serves this address. Please tell me the day beforehand, so that I can be present or send "
    "somebody, and send me the registration found at light and at full load."
)
TEST_DECISIONS = ("field-test",)


def letter(result: Reconciliation) -> dict[str, Any]:
    """Return what the letter says, as plain words for either rendering.

    Parameters
    ----------
    result : Reconciliation

    Returns
    -------
    dict
        Keys ``subject, points, bills, readings, usual, requests``; ``requests`` is empty where there is nothing to
        ask.
    """
    asked, voice = [f for f in result.findings if f.asks], Voice(result.house.locale, result.house.currency)
    over = [i for i, row in enumerate(result.rows) if row.flag == "over"]
    test = result.verdict.field_test_warranted or result.verdict.decision in TEST_DECISIONS
    requests = list(dict.fromkeys(REQUESTS[key].letter for f in asked for key in f.asks))
    if test:
        requests.append(TEST)
    named = sorted({i for f in asked for i in f.periods} | (set(over) if requests else set()))
    return {
        "subject": _subject(result),
        "points": [clean(finding_text(f, voice)) for f in asked],
        "bills": [_bill(result, i) for i in named],
        "readings": any(_has_readings(result, i) for i in named),
        "usual": [_usual(result.rows[i]) for i in over if requests and result.rows[i].usual_kwh is not None],
        "requests": requests,
    }


def _subject(result: Reconciliation) -> str:
    rows = result.rows
    dates = f"Electric bills of {span(rows[0].start, rows[-1].end)}" if rows else "Electric bills"
    meters = list(dict.fromkeys(clean(b.meter) for b in result.house.bills if b.meter))
    return dates + (f", meter {', '.join(meters)}" if meters else "")


def _has_readings(result: Reconciliation, i: int) -> bool:
    bill = result.house.bills[i]
    return bill.reading_start is not None or bill.reading_end is not None


def _bill(result: Reconciliation, i: int) -> dict[str, str]:
    bill, row = result.house.bills[i], result.rows[i]
    return {
        "dates": span(bill.start, bill.end),
        "days": str(bill.days),
        "opens": _reading(bill.reading_start),
        "closes": _reading(bill.reading_end),
        "read": bill.read_type,
        "kwh": number(row.billed_kwh),
        "amount": money(bill.amount, result.house.currency),
    }


def _reading(value: float | None) -> str:
    return "–" if value is None else f"{value:.10g}"


def _usual(row: Period) -> str:
    return (
        f"The bill of {span(row.start, row.end)} charges {number(row.billed_kwh)} kWh. By the list of what is in the "
        f"house and by its other bills, {number(row.usual_low_kwh, 10)} to {number(row.usual_high_kwh, 10)} kWh would "
        "be usual here."
    )


NOTHING = "There is nothing in these bills that the billing desk needs to be asked."
FIRST_CHECK = (
    "Nothing on the paper needs to be asked of the billing desk yet. Do the checks with no cover removed first and "
    "enter them: where they point to the meter, this letter asks for a test of it."
)


def nothing(result: Reconciliation) -> str:
    """Say why there is no letter to write."""
    return FIRST_CHECK if result.verdict.decision == "outside-check" else NOTHING


def letter_text(result: Reconciliation) -> str:
    """Write the letter as plain text.

    Parameters
    ----------
    result : Reconciliation

    Returns
    -------
    str
    """
    words = letter(result)
    if not words["requests"]:
        return nothing(result) + "\n"
    name, address, account, date = PLACEHOLDERS
    parts = [f"{name}\n{address}\nAccount {account}\n{date}", "To the billing desk", words["subject"]]
    parts.append("Please look into the following.")
    parts += [_wrapped(point, f"{n}. ") for n, point in enumerate([*words["points"], *words["usual"]], start=1)]
    if words["bills"]:
        parts.append(_table(words))
    parts.append("I ask you to:")
    parts += [_wrapped(request, "- ") for request in words["requests"]]
    parts += ["Please answer in writing. Thank you.", name]
    return "\n\n".join(parts) + "\n"


def _wrapped(text: str, mark: str) -> str:
    return textwrap.fill(
        text, LETTER_COLUMNS, initial_indent=mark, subsequent_indent=" " * len(mark), break_long_words=False
    )


def _table(words: dict[str, Any]) -> str:
    keys = ["dates", "days", *(["opens", "closes"] if words["readings"] else []), "read", "kwh", "amount"]
    rows = [{**HEADS}, *words["bills"]]
    widths = {key: max(len(row[key]) for row in rows) for key in keys}
    lines = []
    for row in rows:
        cells = [
            row[key].ljust(widths[key]) if key in ("dates", "read") else row[key].rjust(widths[key]) for key in keys
        ]
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)


HEADS = {
    "dates": "Bill",
    "days": "Days",
    "opens": "Opens at",
    "closes": "Closes at",
    "read": "Closing reading",
    "kwh": "kWh",
    "amount": "Amount",
}


def letter_html(result: Reconciliation) -> str:
    """Write the letter as one HTML page, ready to print; everything of the user's is escaped.

    Parameters
    ----------
    result : Reconciliation

    Returns
    -------
    str
    """
    from reconcile.report.html import environment

    name, address, account, date = PLACEHOLDERS
    page = environment().get_template("letter.html")
    return page.render(
        **letter(result), heads=HEADS, nothing=nothing(result), name=name, address=address, account=account, date=date
    )
