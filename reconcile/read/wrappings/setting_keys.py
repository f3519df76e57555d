"""The keys of the settings as one section: from TOML text, or from the paths on the sheet ``house``."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

from reconcile.read.tables.cells import Cell, Grid, Section, plain_name, shown
from reconcile.read.tables.gate import Gate
from reconcile.read.wrappings.files import LARGEST_SETTINGS, read_text

LONGEST_KEY = 200
"""Characters of a line in which its key is looked for."""

_TABLE = re.compile(r"\s*(\[\[?)\s*([^\[\]#]+?)\s*\]")
_KEY = re.compile(r"\s*([A-Za-z0-9_\-.\" ]+?)\s*=")
_AT = re.compile(r" ?\(at (?:line (\d+), column \d+|end of document)\)")


def read_toml(path: Path, file: str, gate: Gate) -> Section | None:
    """Return the keys of a TOML file; None, with a fault, where it cannot be read as text."""
    text = read_text(path, file, gate, LARGEST_SETTINGS)
    return None if text is None else parse_toml(text, file, gate)


def parse_toml(text: str, file: str, gate: Gate) -> Section:
    """Return the keys of TOML text; an empty section, with a fault, where it is not proper TOML."""
    try:
        values = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        at = _AT.search(str(error))
        row = int(at[1]) if at and at[1] else text.count("\n") + 1 if at else None
        what = _AT.sub("", str(error))[:100].strip() if isinstance(error, tomllib.TOMLDecodeError) else "too deep"
        gate.fault(
            f"this is not proper TOML: {what[:1].lower()}{what[1:]}",
            'Write one key = value a line, text in double quotes: name = "Elm Street".',
            file=file,
            row=row,
        )
        return Section({}, file)
    return Section(values, file, rows=lines(text))


def lines(text: str) -> dict[str, int]:
    r"""Return the line of each key by its path, as :class:`~reconcile.read.tables.cells.Section` counts it.

    >>> lines("[meter]\ndigits = 5\n[[tariff]]\nenergy = 0.1")
    {'meter': 1, 'meter.digits': 2, 'tariff[1]': 3, 'tariff[1].energy': 4}
    """
    found: dict[str, int] = {}
    seen: Counter[str] = Counter()
    prefix = ""
    for number, line in enumerate(text.split("\n"), start=1):
        table = _TABLE.match(line[:LONGEST_KEY])
        key = _KEY.match(line[:LONGEST_KEY])
        if table:
            prefix = _path(table[2], seen, is_list=table[1] == "[[")
            found.setdefault(prefix, number)
        elif key:
            found.setdefault(".".join(filter(None, (prefix, *_parts(key[1])))), number)
    return found


def _parts(dotted: str) -> list[str]:
    return [part.strip().strip('"') for part in dotted.split(".")]


def _path(dotted: str, seen: Counter[str], *, is_list: bool) -> str:
    path = ""
    parts = _parts(dotted)
    for index, part in enumerate(parts):
        path = f"{path}.{part}" if path else part
        if index == len(parts) - 1 and is_list:
            seen[path] += 1
        if seen[path]:
            path = f"{path}[{seen[path]}]"
    return path


MOST_ITEMS = 500
"""Tables of one list, such as charges of a tariff (a guard, common practice)."""

LONGEST_PATH = 120

EXPLAINS = ("meaning", "note", "notes", "what it is")
"""Headings of a third column, which is for the eye alone."""

_PATH = re.compile(r"[A-Za-z_]+(?:\[\d{1,4}\])?(?:\.[A-Za-z_]+(?:\[\d{1,4}\])?)*", re.ASCII)
_PART = re.compile(r"([A-Za-z_]+)(?:\[(\d+)\])?", re.ASCII)


def settings_from(grid: Grid, gate: Gate) -> Section:
    """Return the keys of a two-column sheet as the TOML file would give them.

    ``meter.digits`` is the key ``digits`` of ``[meter]``; ``tariff[2].charge[1].per_kwh`` counts the tables
    of a list from 1. A value that begins with ``[`` or ``{`` is read as TOML.
    """
    tree: dict[str, Any] = {}
    rows: dict[str, int] = {}
    explained = False
    for number, values in grid.rows:
        key = Cell(values[0], grid.file, "key", number, grid.sheet)
        value = Cell(values[1] if len(values) > 1 else None, grid.file, shown(values[0]), number, grid.sheet)
        if plain_name(shown(values[0])) in ("key", "keys") and number == grid.rows[0][0]:
            explained = len(values) > 2 and plain_name(shown(values[2])) in EXPLAINS
            continue
        if any(item is not None for item in values[3 if explained else 2 :]):
            gate.wrong(value, "this sheet has two columns, a key and its value", "Clear the other columns.")
        path = values[0].strip() if isinstance(values[0], str) else ""
        if len(path) > LONGEST_PATH or not _PATH.fullmatch(path):
            gate.wrong(key, "this is not the name of a key", "Write it as house.timezone or meter.digits.")
        elif path in rows:
            gate.wrong(key, "this key stands twice", "Keep one of the two.")
        elif not value.blank:
            rows[path] = number
            if not _put(tree, path, _typed(value)):
                gate.wrong(key, "this key cannot stand beside the others", "Check the brackets and dots.")
    return Section(_lists(tree, grid, gate), grid.file, sheet=grid.sheet, rows=rows)


def _typed(cell: Cell) -> Any:
    text = cell.value.strip() if isinstance(cell.value, str) else ""
    if not text.startswith(("[", "{")):
        return cell.value
    try:
        return tomllib.loads("value = " + text.replace("\n", " "))["value"]
    except (ValueError, RecursionError):  # no list after all: whoever reads the key judges the text
        return cell.value


def _put(tree: dict[str, Any], path: str, value: Any) -> bool:
    """Set a value; a list is kept as a dict with its numbers as keys until all of it is known."""
    steps: list[str | int] = []
    for name, index in _PART.findall(path):
        steps.append(name)
        if index:
            steps.append(int(index))
    place: Any = tree
    for step in steps[:-1]:
        place = place.setdefault(step, {})
        if not isinstance(place, dict):
            return False
    if steps[-1] in place:
        return False
    place[steps[-1]] = value
    return True


def _lists(node: Any, grid: Grid, gate: Gate, path: str = "") -> Any:
    if not isinstance(node, dict):
        return node
    made = {key: _lists(item, grid, gate, f"{path}.{key}".strip(".")) for key, item in node.items()}
    numbers = [key for key in made if isinstance(key, int)]
    if not numbers:
        return made
    if len(numbers) < len(made) or sorted(numbers) != list(range(1, len(numbers) + 1)) or len(numbers) > MOST_ITEMS:
        gate.fault_in(
            grid,
            "the tables of this list are not numbered 1, 2, 3 ...",
            f"Number them from 1, as {path}[1].",
            column=path,
        )
        return []
    return [made[number] for number in sorted(numbers)]
