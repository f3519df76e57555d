"""A letter to the billing desk: the facts, one table, and what the steps ask of the utility, no more and no less."""

from __future__ import annotations

import textwrap
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from reconcile.kinds import Decision, Flag
from reconcile.report.templating import environment
from reconcile.say import clean
from reconcile.texts import letter_words as words
from reconcile.texts.field_test import registration_words
from reconcile.texts.findings import finding_text
from reconcile.texts.step_words import request
from reconcile.verdict import excess_step, summed

if TYPE_CHECKING:
    from reconcile.money.refund import Refund
    from reconcile.result import Reconciliation

LETTER_COLUMNS = 78
MOST_BESIDE_PICTURE = 8
"""Bills in the table up to which the picture of all bills stands on the same page."""


def letter(result: Reconciliation, rule: str | None = None) -> dict[str, Any]:
    """Return what the letter says, as plain words for every rendering.

    Parameters
    ----------
    result : Reconciliation
    rule : str, optional
        Code of the published rule by which a refund is worked out, where a test on site found the meter outside its
        limits (:func:`reconcile.money.refund.rules`).

    Returns
    -------
    dict
        Keys ``danger, subject, points, bills, readings, usual, requests, nothing``; ``requests`` is empty where there
        is nothing to ask.
    """
    verdict, voice = result.verdict, result.voice
    requests = asked(result)
    told = [f for f in result.findings if f.asks or (requests and f.settles)]
    over = [i for i, row in enumerate(result.rows) if row.flag is Flag.OVER]
    points = [clean(finding_text(f, voice)) for f in told]
    if over and requests:
        points.append(_run(result, over))
    if requests and (site := _site(result)):
        points.append(site)
        points += _refund(result, rule)
    named = sorted({i for f in told for i in f.periods} | set(over)) if requests else []
    return {
        "danger": [step.text for step in verdict.next_steps] if verdict.decision is Decision.URGENT else [],
        "subject": _subject(result),
        "points": points,
        "bills": [_bill(result, i) for i in named],
        "readings": any(_has_readings(result, i) for i in named),
        "usual": any(result.rows[i].flag is Flag.OVER for i in named),
        "requests": requests,
        "nothing": words.nothing(verdict.decision),
    }


def asked(result: Reconciliation) -> list[str]:
    """Lines of the letter that ask, one for each request of the steps."""
    figures = {key: f.figures for f in reversed(result.findings) for key in f.asks}
    return [result.voice.fill(request(key).letter, figures.get(key, {})) for key in result.verdict.requests]


def _run(result: Reconciliation, over: list[int]) -> str:
    rows = [result.rows[i] for i in over]
    return words.point(
        "over",
        {
            "bills": len(rows),
            "span": (rows[0].start, rows[-1].end),
            "billed": sum(row.billed_kwh or 0.0 for row in rows),
            "over": (summed(result.rows, Flag.OVER).kwh, excess_step(result.rows)),
            "usual": (rows[0].usual_low_kwh, rows[0].usual_high_kwh),
            "listed": bool(result.house.loads),
        },
        result.voice,
    )


def _site(result: Reconciliation) -> str:
    test = result.field_test
    if test is None or test.registration is None or test.doubtful:
        return ""
    found = test.registration
    percent, doubt = registration_words(result.voice, found)
    tolerance = test.tolerance_percent
    return words.point(
        "site",
        {
            "percent": percent,
            "expanded": doubt,
            "low": 100.0 - tolerance,
            "high": 100.0 + tolerance,
        },
        result.voice,
    )


def chosen_refund(result: Reconciliation, rule: str | None) -> Refund | None:
    """Return what the rule gives for the meter as tested, or None where no test found it outside its limits."""
    made = () if result.money is None else result.money.refunds
    return next((one for one in made if one.rule.code == rule), None)


def _refund(result: Reconciliation, rule: str | None) -> list[str]:
    """Say what the rule gives, where it is owed to the customer."""
    owed = chosen_refund(result, rule)
    if owed is None or owed.within_tolerance or owed.kwh <= 0:
        return []
    figures = {
        "place": owed.rule.place,
        "source": owed.rule.source.split(" (")[0],
        "start": owed.start,
        "end": owed.end,
        "kwh": owed.kwh,
        "amount": owed.amount,
        "how": "since-the-exchange" if _at_exchange(result) else "since-the-first-bill",
    }
    return [words.point("refund", figures, result.voice)]


def _at_exchange(result: Reconciliation) -> bool:
    return any(finding.code == "meter-exchange" for finding in result.findings)


def _subject(result: Reconciliation) -> str:
    rows = result.rows
    span = result.voice.span(rows[0].start, rows[-1].end) if rows else ""
    meters = list(dict.fromkeys(clean(b.meter) for b in result.house.bills if b.meter))
    return f"Electric bills of {span}" + (f", meter {', '.join(meters)}" if meters else "")


def _has_readings(result: Reconciliation, i: int) -> bool:
    bill = result.house.bills[i]
    return bill.reading_start is not None or bill.reading_end is not None


def _bill(result: Reconciliation, i: int) -> dict[str, str]:
    bill, row, voice = result.house.bills[i], result.rows[i], result.voice
    usual = voice.between(row.usual_low_kwh, row.usual_high_kwh) if row.flag is Flag.OVER else ""
    return {
        "dates": voice.span(bill.start, bill.end),
        "days": str(bill.days),
        "opens": _reading(bill.reading_start),
        "closes": _reading(bill.reading_end),
        "read": bill.read_type,
        "kwh": voice.exact(row.billed_kwh),
        "usual": usual,
        "amount": voice.money(bill.amount),
    }


def _reading(value: float | None) -> str:
    return "–" if value is None else f"{value:.10g}"


def letter_text(result: Reconciliation, rule: str | None = None) -> str:
    """Write the letter as plain text.

    Parameters
    ----------
    result : Reconciliation
    rule : str, optional
        As :func:`letter`.

    Returns
    -------
    str
    """
    said = letter(result, rule)
    if said["danger"]:
        return "\n\n".join([*(_wrapped(line, "") for line in said["danger"]), _wrapped(said["nothing"], "")]) + "\n"
    if not said["requests"]:
        return _wrapped(said["nothing"], "") + "\n"
    name, address, account, date = words.PLACEHOLDERS
    parts = [f"{name}\n{address}\nAccount {account}\n{date}", words.TO, said["subject"], words.OPENING]
    parts += [_wrapped(point, f"{n}. ") for n, point in enumerate(said["points"], start=1)]
    if said["bills"]:
        parts.append(_table(said))
    parts.append(words.ASKING)
    parts += [_wrapped(line, "- ") for line in said["requests"]]
    parts += [words.CLOSING, name]
    return "\n\n".join(parts) + "\n"


def _wrapped(text: str, mark: str) -> str:
    return textwrap.fill(
        text, LETTER_COLUMNS, initial_indent=mark, subsequent_indent=" " * len(mark), break_long_words=False
    )


def columns(said: dict[str, Any]) -> list[str]:
    """Columns of the letter's table that have something in them."""
    readings = ["opens", "closes"] if said["readings"] else []
    read = ["read"] if any(bill["read"] != "actual" for bill in said["bills"]) else []
    return ["dates", "days", *readings, *read, "kwh", *(["usual"] if said["usual"] else []), "amount"]


def _table(said: dict[str, Any]) -> str:
    keys = columns(said)
    rows = [{**words.HEADS}, *said["bills"]]
    widths = {key: max(len(row[key]) for row in rows) for key in keys}
    lines = []
    for row in rows:
        cells = [
            row[key].ljust(widths[key]) if key in ("dates", "read") else row[key].rjust(widths[key]) for key in keys
        ]
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)


def letter_html(result: Reconciliation, rule: str | None = None) -> str:
    """Write the letter as one HTML page, ready to print; everything of the user's is escaped.

    Parameters
    ----------
    result : Reconciliation
    rule : str, optional
        As :func:`letter`.

    Returns
    -------
    str
    """
    said = letter(result, rule)
    name, address, account, date = words.PLACEHOLDERS
    return environment().get_template("letter.html").render(
        **said, picture=_picture(result, said), heads=words.HEADS, columns=columns(said), opening=words.OPENING,
        asking=words.ASKING, closing=words.CLOSING, enclosed=words.ENCLOSED, to=words.TO, name=name, address=address,
        account=account, date=date,
    )  # fmt: skip


def _picture(result: Reconciliation, said: dict[str, Any]) -> dict[str, str] | None:
    """Draw all bills, where the page has room; what is only inferred is not drawn in."""
    if not (said["requests"] and said["usual"] and len(said["bills"]) <= MOST_BESIDE_PICTURE):
        return None
    from reconcile.report.over_time import bills_against_bands
    from reconcile.report.picture import picture

    return picture(bills_against_bands, replace(result, causes=()))
