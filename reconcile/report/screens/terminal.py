"""The answer as text for a terminal: it fits its width, and nothing in it needs color to be read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.report.screens.plain_lines import plain
from reconcile.report.screens.screen import Block, short, whole

if TYPE_CHECKING:
    from reconcile.result import Reconciliation

NARROWEST = 40
"""Columns that are used at least."""


def terminal_text(result: Reconciliation, width: int = 100, colour: bool = False, *, full: bool = True) -> str:
    """Return the answer as lines of at most ``width`` columns.

    Parameters
    ----------
    width : int
        Columns there are; at least 40 are used.
    colour : bool
        For a terminal that shows color: by rich where it is installed, else with bold headings; the words are the same.
    full : bool
        Everything; else one screen: the answer, its figures, what to do first, what to say.
    """
    width = max(width, NARROWEST)
    if colour:
        try:
            from reconcile.report.screens.styled import styled
        except ImportError:  # a terminal without rich has the plain text, headings bold
            pass
        else:
            return styled(_blocks(result, width, full=full), width)
    lines = [line for block in _blocks(result, width, full=full) for line in plain(block, width, bold=colour)]
    return "\n".join(lines).strip("\n") + "\n"


def _blocks(result: Reconciliation, width: int, *, full: bool) -> list[Block]:
    return list(whole(result)) if full else short(result, lambda block: len(list(plain(block, width))))
