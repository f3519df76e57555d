"""Signs of danger that somebody wrote into a note, the diary or a column of one's own: told as the flag tells them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from reconcile.errors import Fault
from reconcile.house import DANGERS
from reconcile.read.household.danger_words import State, signs_in
from reconcile.read.tables.cells import Row, Table, or_list, plain_name, shown
from reconcile.read.tables.gate import Gate

OWN_WORDS = ("note", "load", "kind")
"""Columns in which people write; beside them, every column that is not read."""
IS_DANGER = " is taken for a sign of danger. "
MAY_BE_DANGER = " may tell of a danger, and was not taken for one. "
"""What marks the notice of such a line, so that no answer hides it."""


def read_dangers(tables: Iterable[Table], denied: frozenset[str], gate: Gate) -> tuple[str, ...]:
    """Return the signs of danger that lines of some tables tell of, each line quoted in a notice.

    Parameters
    ----------
    tables : iterable of Table
    denied : frozenset of str
        Signs that the settings say are not there, or are over.
    gate : Gate

    Returns
    -------
    tuple of str
        Names of :data:`reconcile.house.DANGERS`, in their order.
    """
    found: set[str] = set()
    for table in tables:
        for row, text in _lines(table):
            # a repair in the diary is one of what its line tells of
            repaired = plain_name(shown(row["kind"].value)) == "repair"
            signs = signs_in(f"{text}. repaired" if repaired else text)
            there = [sign.name for sign in signs if sign.name and sign.state is State.THERE]
            open_ones = [name for name in there if name not in denied]
            place = f'{table.place}, row {row.number}: "{shown(text)}"'
            if open_ones:
                found.update(open_ones)
                gate.notice(f"{place}{IS_DANGER}{_when_over(open_ones, gate)}")
            elif any(sign.state is State.DOUBTFUL for sign in signs):
                gate.notice(f"{place}{MAY_BE_DANGER}{_asked(gate)}")
            elif signs and not there:
                gate.notice(f"{place} tells of a danger that was dealt with.")
    return tuple(name for name in DANGERS if name in found)


def danger_first(names: tuple[str, ...], gate: Gate, file: str) -> None:
    """Put a danger before the faults of the files, which nobody should mend first."""
    said = [notice.partition(IS_DANGER)[0] for notice in gate.notices if IS_DANGER in notice]
    remedy = (
        "Stop: touch neither the meter nor the panel, and call the utility's emergency line or a licensed electrician "
        "now; with smoke or fire go out and call the fire service first. The files can wait."
    )
    what = "; ".join(said) or ", ".join(name.replace("_", " ") for name in names)
    key = None if said else "danger"
    gate.faults.insert(0, Fault(file, f"a sign of danger is written here ({what})", remedy, column=key))


def _lines(table: Table) -> Iterator[tuple[Row, str]]:
    read = {index: name for name, index in table.header.items()}
    for row in table.rows:
        for index, value in enumerate(row.values):
            if isinstance(value, str) and " " in value.strip() and read.get(index, "note") in OWN_WORDS:
                yield row, value.strip()


def _when_over(names: list[str], gate: Gate) -> str:
    """Say how to tell that a danger is over."""
    if gate.settings_in == "sheet":
        how = f"no beside {or_list([f'danger.{name}' for name in names]).replace(' or ', ' and ')} on the sheet house"
    elif gate.settings_in == "arguments":
        how = f"dangers={{{', '.join(f'{name!r}: False' for name in names)}}}"
    else:
        how = f"{or_list([f'{name} = false' for name in names]).replace(' or ', ' and ')} under [danger] in house.toml"
    return f"If it is over, write in the same line that it was repaired; if it is no danger, write {how}."


def _asked(gate: Gate) -> str:
    """Ask for the signs that would make a doubtful line one of danger."""
    where = {"sheet": "danger on the sheet house", "arguments": "dangers=..."}.get(gate.settings_in, "[danger]")
    signs = "anything is hot, sparks, buzzes or smells burnt, or if some lights grow brighter as others dim"
    return f"If {signs}, say so under {where}. With a smell of gas switch nothing, go out, and call the gas company."
