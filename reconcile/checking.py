"""One house or several on the command line: weighed, said on the screen, written, and told in a row of a table."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reconcile.console import RAISE, colored, columns, explain, one_line, say, say_answer, say_beside, say_written
from reconcile.progress import doing
from reconcile.records import dataclass

if TYPE_CHECKING:
    from reconcile.result import Reconciliation

SILENT = ("json", "quiet")
"""Ways of showing an answer that print nothing else."""


@dataclass(frozen=True, slots=True)
class Shown:
    """An answer and where it was written."""

    result: Reconciliation
    written: tuple[Path, ...]


def check_one(house: Path, folder: Path, form: str) -> Shown:
    """Weigh one house, say the answer, then draw and write it: the screen does not wait for the pictures."""
    with doing("Loading"):
        from reconcile.answer import reconcile
        from reconcile.read import read_house
        from reconcile.report.save import save

    if house.is_dir() and folder.exists() and folder.samefile(house):
        raise click.UsageError("--out is the house's own folder; the answer is kept apart from your files.")
    with doing(f"Reading {house}"):
        read = read_house(house)
    with doing(f"Weighing {len(read.bills)} bills"):
        result = reconcile(read)
    unsaid = None
    if form not in SILENT:
        from reconcile.report.screens.terminal import terminal_text

        try:
            say(terminal_text(result, columns(), colored(), full=form == "full"))
        except OSError as error:  # what cannot be printed is written all the same
            unsaid = error
    with doing("Writing the answer"):
        written = save(result, folder)
    if unsaid is not None:
        raise unsaid
    say_beside(written[0], folder, aloud=form not in SILENT)
    if form == "json":
        import json

        from reconcile.result import plain

        click.echo(json.dumps(plain(result.to_dict()), indent=1, ensure_ascii=False))
    elif form != "quiet":
        say_answer(written)
    return Shown(result, written)


def check_row(house: Path, folder: Path, form: str) -> tuple[dict[str, Any], int]:
    """Weigh one of several houses: its row of the table, and its exit status."""
    from reconcile.errors import InputError, ReconcileError
    from reconcile.report.screens.summary import answered, refused

    if form not in SILENT:
        say(f"== {house}")
    try:
        shown = check_one(house, folder, form)
    except ReconcileError as error:
        click.echo(f"{house}:", err=True)
        status = explain(error)
        lines = [str(fault) for fault in error.faults] if isinstance(error, InputError) else [str(error)]
        return refused(house, " ".join(map(one_line, lines))), status
    except OSError:
        raise
    except Exception as error:
        if os.environ.get(RAISE):
            raise
        click.echo(f"{house}:", err=True)
        return refused(house, f"a fault of the program ({type(error).__name__})"), explain(error)
    return answered(house, shown.result, shown.written[0].parent), 0


def not_yet_there(table: Path | None) -> None:
    """Refuse a table that would have to be written over another file."""
    if table is not None and table.exists():
        raise click.UsageError(f"{table} is already there. Name another file; nothing was written.")


def write_table(rows: Sequence[dict[str, Any]], place: Path | None, *, aloud: bool) -> None:
    """Write the table of several houses, and say where."""
    if place is not None:
        from reconcile.report.save import save_new
        from reconcile.report.screens.summary import table

        save_new({place: table(rows)})
        if aloud:
            say_written([place])
