"""Errors a user or a caller can meet, drawn as a tree.

::

    ReconcileError
      x InputError (also a ValueError)    the user's files or arguments; carries every fault at once
      x UnitError (also a ValueError)     a quantity that cannot be what it should be
      x OutputError (also an OSError)     a place that cannot be written, or holds somebody else's file
      x CrashError                        one of many houses on which the program itself failed

Nothing else leaves the package on purpose: any other exception is a fault of the program.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from reconcile.records import dataclass


class ReconcileError(Exception):
    """Root of every error raised on purpose."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong in a user's file, and what to write instead.

    Attributes
    ----------
    file : str
        Name of the file as the user knows it.
    problem : str
        Why what was read cannot be right; a clause without a full stop.
    remedy : str
        What to do or to write instead.
    sheet : str or None
        Sheet of a workbook.
    row : int or str or None
        Line of a text file or row of a sheet, counted from 1, the header included; of a frame the row's label.
    column : str or None
        Column or key.
    read : str or None
        What stood there.
    house : str or None
        Name of the house, where one of many is meant.
    also_in : tuple of (int or str)
        Further rows of which the same is true.
    more : int
        How many rows beside those.
    """

    file: str
    problem: str
    remedy: str
    sheet: str | None = None
    row: int | str | None = None
    column: str | None = None
    read: str | None = None
    house: str | None = None
    also_in: tuple[int | str, ...] = ()
    more: int = 0

    @property
    def place(self) -> str:
        """Where the fault is, for a person: ``bills.csv, row 4, column kwh``."""
        parts = [self.file] if self.house is None else [self.house, self.file]
        if self.sheet is not None:
            parts.append(f"sheet {self.sheet}")
        if self.row is not None:
            more = f" and {self.more} more" if self.more else ""
            parts.append(f"row{'s' if self.also_in else ''} {_runs((self.row, *self.also_in))}{more}")
        if self.column is not None:
            parts.append(f"column {self.column}" if self.row is not None else self.column)
        return ", ".join(parts)

    def __str__(self) -> str:
        read = f" (read: {self.read!r})" if self.read is not None else ""
        return f"{self.place}: {self.problem}{read}. {self.remedy}"


def _runs(rows: tuple[int | str, ...]) -> str:
    """Return rows as a person counts them.

    >>> _runs((2, 3, 4, 5, 9)), _runs((2, 3)), _runs(("a", "b"))
    ('2 to 5, 9', '2, 3', 'a, b')
    """
    runs: list[list[int | str]] = []
    for row in rows:
        if runs and isinstance(row, int) and runs[-1][-1] == row - 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    told = [f"{run[0]} to {run[-1]}" if len(run) > 3 else ", ".join(map(str, run)) for run in runs]
    return ", ".join(told)


class _FaultsError(ReconcileError):
    """An error that lists faults; they and what was noted of it go with it to another process."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[_FaultsError], tuple[tuple[Fault, ...]], Mapping[str, Any]]:
        return (type(self), (self.faults,), {key: value for key, value in vars(self).items() if key == "__notes__"})


class InputError(_FaultsError, ValueError):
    """The input is wrong.

    Parameters
    ----------
    faults : iterable of Fault
        Everything that was found, not only the first.
    """


class CrashError(_FaultsError):
    """The program failed on one of many houses: a fault of its own, given in the place of that house's answer.

    Parameters
    ----------
    faults : iterable of Fault
        One, which names the house and what was raised; the traceback is a note.
    """


class UnitError(ReconcileError, ValueError):
    """A quantity with a unit that is unknown or of the wrong kind."""


class OutputError(ReconcileError, OSError):
    """The answer cannot be written there without losing something."""
