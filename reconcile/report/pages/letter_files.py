"""The letter as files: a page, and a document for a word processor (python-docx, the extra ``docx``)."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from reconcile.errors import OutputError
from reconcile.report.pages.letter import columns, letter_html, letter_text
from reconcile.report.views.letter_view import chosen_refund, letter
from reconcile.texts import letter_words as words
from reconcile.texts.money import refund_text

if TYPE_CHECKING:
    from reconcile.result import Reconciliation

__all__ = ["letter_docx", "letter_files", "letter_text", "refund_note"]

NEEDS_DOCX = "python-docx is not installed. Run: pip install 'reconcile[docx]'"
WIDTHS_MM = {"dates": 44, "days": 12, "usual": 32}
"""Columns of the document's table that are not of the common width."""
WRITTEN = datetime(2000, 1, 1, tzinfo=UTC)
"""Day that the document names as its own, so that the same answer gives the same bytes."""


def letter_files(result: Reconciliation, rule: str | None = None, *, docx: bool = False) -> dict[str, bytes]:
    """Return the files of the letter by their names.

    Parameters
    ----------
    rule : str, optional
        As :func:`reconcile.report.views.letter_view.letter`.
    docx : bool
        Also ``letter.docx``.

    Raises
    ------
    OutputError
        Where a document is wanted and python-docx is not installed.
    """
    files = {"letter.html": letter_html(result, rule).encode(errors="replace")}
    if docx:
        files["letter.docx"] = letter_docx(result, rule)
    return files


def refund_note(result: Reconciliation, rule: str) -> str:
    """Say to the householder what a rule gives, or why nothing is worked out."""
    owed = chosen_refund(result, rule)
    if owed is None:
        return words.NO_REFUND
    return f"{refund_text(owed, result.voice)} {words.rule_status(owed.rule.status, owed.rule.date_read)}"


def letter_docx(result: Reconciliation, rule: str | None = None) -> bytes:
    """Write the letter for a word processor, on one page of ordinary length.

    Parameters
    ----------
    rule : str, optional
        As :func:`reconcile.report.views.letter_view.letter`.

    Returns
    -------
    bytes
        The same for the same answer.

    Raises
    ------
    OutputError
        Where python-docx is not installed.
    """
    try:
        from docx import Document
        from docx.shared import Mm, Pt
    except ModuleNotFoundError as missing:
        raise OutputError(NEEDS_DOCX) from missing

    said = letter(result, rule)
    document = Document()
    for section in document.sections:
        section.left_margin = section.right_margin = Mm(22)
        section.top_margin = section.bottom_margin = Mm(18)
    style = document.styles["Normal"]
    style.font.size = Pt(10.5)
    style.paragraph_format.space_after = Pt(5)
    if said["danger"] or not said["requests"]:
        for line in (*said["danger"], said["nothing"]):
            document.add_paragraph(line)
    else:
        _body(document, said)
    made = document.core_properties
    made.title, made.author, made.comments = said["subject"], "", ""
    made.created = made.modified = WRITTEN
    page = io.BytesIO()
    document.save(page)
    return _undated(page)


def _undated(page: io.BytesIO) -> bytes:
    """Pack the document anew with one day for all of its parts: python-docx packs the time of writing."""
    out = io.BytesIO()
    with zipfile.ZipFile(page) as packed, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as anew:
        for name in packed.namelist():
            anew.writestr(zipfile.ZipInfo(name, WRITTEN.timetuple()[:6]), packed.read(name), zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _body(document: Any, said: dict[str, Any]) -> None:
    name, address, account, date = words.PLACEHOLDERS
    document.add_paragraph(f"{name}\n{address}\nAccount {account}\n{date}")
    document.add_paragraph(words.TO)
    document.add_paragraph().add_run(said["subject"]).bold = True
    if said["opening"]:
        document.add_paragraph(said["opening"])
    for number, point in enumerate(said["points"], start=1):
        document.add_paragraph(f"{number}. {point}")
    if said["bills"]:
        _table(document, said)
    asking = document.add_paragraph(words.ASKING)
    asking.paragraph_format.space_before = asking.paragraph_format.space_after
    for line in said["requests"]:
        document.add_paragraph(line, style="List Bullet")
    document.add_paragraph(words.CLOSING)
    document.add_paragraph(name)
    if said["record"]:
        document.add_paragraph(said["record"])


def _table(document: Any, said: dict[str, Any]) -> None:
    from docx.enum.text import WD_ALIGN_PARAGRAPH
    from docx.shared import Mm, Pt

    keys = columns(said)
    rows = [words.HEADS, *said["bills"]]
    table = document.add_table(rows=len(rows), cols=len(keys))
    table.autofit = False
    for column, key in zip(table.columns, keys, strict=True):
        column.width = Mm(WIDTHS_MM.get(key, 20))
    for cells, row in zip(table.rows, rows, strict=True):
        for place, (cell, key) in enumerate(zip(cells.cells, keys, strict=True)):
            cell.width = Mm(WIDTHS_MM.get(key, 20))
            paragraph = cell.paragraphs[0]
            run = paragraph.add_run(row[key])
            run.font.size, run.bold = Pt(9), row is words.HEADS
            paragraph.paragraph_format.space_after = Pt(1)
            if place and key != "read":
                paragraph.alignment = WD_ALIGN_PARAGRAPH.RIGHT
