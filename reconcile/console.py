"""What the command line prints beside answers: faults, places written to, and how wide and colored the screen is."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Sequence
from pathlib import Path

import click

RAISE = "RECONCILE_RAISE"
"""Environment variable that lets a developer see the traceback of an unexpected error."""

CANNOT_PRINT = (errno.ENOSPC, errno.EIO, errno.EBADF, errno.EFBIG, errno.EDQUOT)
"""Errors of writing to a full or closed place."""


def print_no_more() -> None:
    """Let what is still to be printed go nowhere, so that the interpreter does not stumble over it in the end."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def say(text: str) -> None:
    """Print a text; where whoever reads has enough, the work goes on unread."""
    try:
        click.echo(text)
    except BrokenPipeError:
        print_no_more()


def explain(error: Exception) -> int:
    """Print what went wrong and return the exit status."""
    from reconcile.errors import InputError, ReconcileError

    if isinstance(error, InputError):
        count = len(error.faults)
        things = "One thing has" if count == 1 else f"{count} things have"
        click.echo(f"{things} to be put right first:", err=True)
        for fault in error.faults:
            click.echo(f"- {one_line(str(fault))}", err=True)
        return 2
    if isinstance(error, ReconcileError):
        click.echo(f"{one_line(str(error))}.", err=True)
        return 2
    where = _where(error)
    click.echo(
        f"Something went wrong inside the program ({type(error).__name__}{where}); your files are unchanged. "
        "Please report this line, and the command that led to it, to the maintainers of the project.",
        err=True,
    )
    return 1


def one_line(text: str) -> str:
    """Return a text without what would move the cursor."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def _where(error: Exception) -> str:
    place = error.__traceback__
    found = ""
    while place is not None:
        path = Path(place.tb_frame.f_code.co_filename)
        if "reconcile" in path.parts:
            found = f" at {path.parent.name}/{path.name}, line {place.tb_lineno}"
        place = place.tb_next
    return found


def say_written(paths: Sequence[Path]) -> None:
    """Say which files were written."""
    click.echo("Written:")
    for path in paths:
        click.echo(f"  {path}")


def say_answer(paths: Sequence[Path]) -> None:
    """Say where an answer was written, and how its page is opened; the last lines of a screen."""
    click.echo(f"Written: {', '.join(path.name for path in paths)} in {paths[0].parent}")
    if sys.stdout.isatty():
        click.echo(f"Open the page in a browser: {paths[0].absolute().as_uri()}")


def say_beside(written: Path, folder: Path, *, aloud: bool) -> None:
    """Say where an answer went that was not written over one a person has changed."""
    if written.parent != folder:
        kept = f"{folder} holds files changed since they were written; it is kept as it is."
        click.echo(f"{kept} The new answer is in {written.parent}", err=not aloud)


def columns() -> int:
    """Return the letters across the screen, 100 at the most."""
    if not sys.stdout.isatty():
        return 100
    import shutil

    return min(shutil.get_terminal_size((100, 24)).columns, 100)


def colored() -> bool:
    """Return whether the screen is one that shows color."""
    return sys.stdout.isatty() and "NO_COLOR" not in os.environ and os.environ.get("TERM") != "dumb"
