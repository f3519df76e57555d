"""The tables of columns in docs/formats.md, made from the declared columns: run this file to write them anew."""

from __future__ import annotations

import re
from pathlib import Path

from reconcile.read.tables.columns import TABLES, Columns

PAGE = Path(__file__).parents[1] / "docs" / "formats.md"
PART = "<!-- columns of {} -->\n{}<!-- end of columns -->\n"
SHOWN = 14
"""Other names that the page lists of one column, the likeliest first."""


def part(spec: Columns) -> str:
    lines = ["| column | meaning | default | also headed |", "|---|---|---|---|"]
    for column in spec:
        meaning = column.meaning
        if column.needed:
            meaning += " (**needed**)"
        if column.words:
            meaning += ": " + ", ".join(f"`{code}`" for code in column.codes)
        names = [name.replace("|", "/") for name in column.synonyms[:SHOWN]]
        more = ", ..." if len(column.synonyms) > SHOWN else ""
        lines.append(f"| `{column.name}` | {meaning} | {column.default} | {', '.join(names)}{more} |")
    return "\n".join(lines) + "\n"


def with_parts(page: str) -> str:
    for name, spec in TABLES.items():
        found = re.search(rf"<!-- columns of {name} -->\n.*?<!-- end of columns -->\n", page, re.DOTALL)
        assert found, name
        page = page.replace(found[0], PART.format(name, part(spec)))
    return page


if __name__ == "__main__":
    PAGE.write_text(with_parts(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
