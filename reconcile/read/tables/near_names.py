"""Names that point to something named elsewhere: a slip of the pen is a fault, since it would move the answer."""

from __future__ import annotations

import difflib
from collections.abc import Sequence

from reconcile.read.tables.cells import Cell, plain_name
from reconcile.read.tables.gate import Gate

NEAR = 0.8
"""Likeness of two names from which one is taken for a slip of the other: one letter in five (our own judgement)."""


def listed_name(cell: Cell, name: str, listed: Sequence[str], gate: Gate, where: str) -> str | None:
    """Return a name as the list has it; None where it is not there, with a fault where it is nearly there.

    Parameters
    ----------
    cell : Cell
        Where the name stands.
    name : str
    listed : sequence of str
    gate : Gate
    where : str
        The list, as the fault calls it.
    """
    plain = {plain_name(one): one for one in listed}
    found = plain.get(plain_name(name))
    if found is not None:
        return found
    if any("loads" in (fault.sheet, fault.file.partition(".")[0]) for fault in gate.faults):
        return None  # the list itself is not whole yet
    near = difflib.get_close_matches(plain_name(name)[:100], list(plain), n=1, cutoff=NEAR)
    if near:
        gate.wrong(
            Cell(name, cell.file, cell.column, cell.row, cell.sheet),
            f"this name is not in {where}",
            f"Did you mean {plain[near[0]]}? Write it as it stands there.",
        )
    return None
