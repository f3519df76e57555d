"""TOML text as a section of keys, each with its line."""

from __future__ import annotations

import re
import tomllib
from collections import Counter

from reconcile.read.tables.cells import Section
from reconcile.read.tables.gate import Gate

LONGEST_KEY = 200
"""Characters of a line in which its key is looked for."""

_TABLE = re.compile(r"\s*(\[\[?)\s*([^\[\]#]+?)\s*\]")
_KEY = re.compile(r"\s*([A-Za-z0-9_\-.\" ]+?)\s*=")
_AT = re.compile(r" ?\(at (?:line (\d+), column \d+|end of document)\)")


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
