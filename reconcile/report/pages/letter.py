"""The letter to the billing desk, as plain text and as a page."""

from __future__ import annotations

import textwrap
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from reconcile.report.pages.templating import environment
from reconcile.report.views.letter_view import letter
from reconcile.texts import letter_words as words

if TYPE_CHECKING:
    from reconcile.result import Reconciliation

LETTER_COLUMNS = 78
MOST_BESIDE_PICTURE = 9
"""Lines of the table up to which the picture of all bills stands on the same page."""


def letter_text(result: Reconciliation, rule: str | None = None) -> str:
    """Write the letter as plain text.

    Parameters
    ----------
    rule : str, optional
        As :func:`letter`.
    """
    said = letter(result, rule)
    if said["danger"]:
        return "\n\n".join([*(_wrapped(line, "") for line in said["danger"]), _wrapped(said["nothing"], "")]) + "\n"
    if not said["requests"]:
        return _wrapped(said["nothing"], "") + "\n"
    name, address, account, date = words.PLACEHOLDERS
    parts = [f"{name}\n{address}\nAccount {account}\n{date}", words.TO, said["subject"]]
    parts += [said["opening"]] if said["opening"] else []
    parts += [_wrapped(point, f"{n}. ") for n, point in enumerate(said["points"], start=1)]
    if said["bills"]:
        parts.append(_table(said))
    parts.append(words.ASKING)
    parts += [_wrapped(line, "- ") for line in said["requests"]]
    parts += [words.CLOSING, name, *([_wrapped(said["record"], "")] if said["record"] else [])]
    return "\n\n".join(parts) + "\n"


def _wrapped(text: str, mark: str) -> str:
    return textwrap.fill(
        text, LETTER_COLUMNS, initial_indent=mark, subsequent_indent=" " * len(mark), break_long_words=False
    )


def columns(said: dict[str, Any]) -> list[str]:
    """Columns of the letter's table that have something in them."""
    readings = ["opens", "closes"] if said["readings"] else []
    read = ["read"] if any(bill["read"] not in ("actual", "") for bill in said["bills"]) else []
    usual = ["usual", "over"] if said["usual"] else []
    limits = ["range"] if said["usual"] and not readings and not read else []
    return ["dates", "days", *readings, *read, "kwh", *usual, *limits, "amount"]


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
    rule : str, optional
        As :func:`letter`.
    """
    said = letter(result, rule)
    name, address, account, date = words.PLACEHOLDERS
    return environment().get_template("letter.html").render(
        **said, picture=_picture(result, said), heads=words.HEADS, columns=columns(said),
        asking=words.ASKING, closing=words.CLOSING, enclosed=words.ENCLOSED, to=words.TO, name=name, address=address,
        account=account, date=date,
    )  # fmt: skip


def _picture(result: Reconciliation, said: dict[str, Any]) -> dict[str, str] | None:
    """Draw all bills, where the page has room; what is only inferred is not drawn in."""
    if not (said["requests"] and said["usual"] and len(said["bills"]) <= MOST_BESIDE_PICTURE):
        return None
    from reconcile.report.drawn.over_time import bills_against_bands
    from reconcile.report.drawn.picture import picture

    return picture(bills_against_bands, replace(result, causes=()))
