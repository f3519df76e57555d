"""The same blocks by rich, for a terminal that shows color: frames and weight, the words unchanged."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator

from rich import box
from rich.console import Console, RenderableType
from rich.panel import Panel
from rich.table import Table as Grid
from rich.text import Text as Words

from reconcile.report.screens.plain_lines import TABLE_FROM, fitting, paragraph
from reconcile.report.screens.screen import Answer, Block, Caution, Head, Table, Text
from reconcile.report.words import clean, glued
from reconcile.texts.safety import Signal

HEAD = "bold cyan"
GLUE = "\ue000"
"""Private letter in the place of a space that does not break, at which rich would break a line."""
MARKS = {"▲": "bold yellow", "▼": "bold magenta"}
"""Look of the marks of bills; the mark and its word say the same without."""


def styled(blocks: Iterable[Block], width: int) -> str:
    """Lay out blocks with rich.

    Parameters
    ----------
    width : int
        Columns there are.

    Returns
    -------
    str
        With ANSI sequences.
    """
    page = io.StringIO()
    console = Console(
        file=page, width=width, force_terminal=True, color_system="standard", legacy_windows=False, markup=False,
        highlight=False, emoji=False,
    )  # fmt: skip
    for block in blocks:
        for part in _laid_out(block, width):
            console.print(part)
    return "\n".join(line.rstrip() for line in page.getvalue().replace(GLUE, " ").strip("\n").split("\n")) + "\n"


def _laid_out(block: Block, width: int) -> Iterator[RenderableType]:
    match block:
        case Head(text):
            yield ""
            yield _words(text, HEAD)
        case Answer(text, danger=True):
            yield Panel(_words(text, "bold"), box=box.DOUBLE, border_style="bold red", width=width, padding=(0, 1))
        case Answer(text):
            yield ""
            for line in paragraph(text, width - 2):
                yield Words.assemble(("┃ ", "cyan"), (line.replace(" ", GLUE), "bold"))
            yield ""
        case Caution(text, first):
            yield _hanging(first, _signal(text))
        case Text(text, first):
            yield _hanging(first, _words(text))
        case Table():
            yield from _laid_out(Head(block.title if width >= TABLE_FROM else block.narrow_title), width)
            if width >= TABLE_FROM:
                yield _grid(block, width)
            else:
                for told in block.told:
                    yield from _laid_out(told, width)


def _words(text: str, style: str = "") -> Words:
    return Words(glued(str(clean(text))).replace("\N{NO-BREAK SPACE}", GLUE), style=style)


def _signal(text: str) -> Words:
    words = _words(text)
    for signal in Signal:
        if words.plain.startswith(signal):
            words.stylize("bold red" if signal is Signal.DANGER else "bold yellow", 0, len(signal))
    return words


def _hanging(first: str, words: Words) -> RenderableType:
    if not first:
        return words
    grid = Grid.grid(padding=0)
    grid.add_column(width=len(first), no_wrap=True)
    grid.add_column(overflow="fold")
    grid.add_row(Words(first, style=MARKS.get(first.strip(), "")), words)
    return grid


def _grid(table: Table, width: int) -> Grid:
    rows = [[str(clean(cell)) for cell in row] for row in table.rows]
    keep = fitting(table.header, rows, width)
    last = len(table.header) - 1
    grid = Grid(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold underline")
    for c in keep:
        grid.add_column(
            Words(table.header[c]), justify="left" if c in (0, last) else "right", no_wrap=True, overflow="ellipsis"
        )
    for row in rows:
        grid.add_row(*(Words(row[c], style=MARKS.get(row[last][:1], "")) for c in keep))
    return grid
