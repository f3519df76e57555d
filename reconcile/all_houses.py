"""Every house of a folder, each weighed by itself in one of several processes: a line, a row and its files."""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

from reconcile.answer import reconcile
from reconcile.console import RAISE
from reconcile.errors import InputError, ReconcileError
from reconcile.read import read_house
from reconcile.read.wrappings.sources import BOOKS, TEXT_TABLES
from reconcile.records import dataclass
from reconcile.report.save import answer_folder, save
from reconcile.report.screens.summary import answered, refused
from reconcile.report.views.first_view import sentences
from reconcile.result import plain

OF_ONE_HOUSE = ("house.toml", *(f"{name}{ending}" for name in ("bills", "loads") for ending in TEXT_TABLES))
"""Files by which a folder shows that it is one house and does not hold houses."""
AT_ONCE = 4
"""Houses that a process takes at a time: enough that handing them over costs nothing beside weighing (our choice)."""


@dataclass(frozen=True, slots=True)
class Told:
    """What one house gives: its row of the table, a line to read, its answer as JSON, and an exit status."""

    path: Path
    row: dict[str, Any]
    line: str
    data: str
    status: int


def houses_in(folder: Path) -> list[Path]:
    """Return the houses that lie in a folder: its folders, workbooks and files of bills, by their names.

    Answers that the program has written (``NAME.answer``) and hidden files are none.

    Parameters
    ----------
    folder : Path
        What holds them.
    """
    return sorted(
        path
        for path in folder.iterdir()
        if not path.name.startswith((".", "~$")) and not path.suffix.startswith(".answer")
        if path.is_dir() or path.suffix.casefold() in (*BOOKS, *TEXT_TABLES)
    )


def is_one_house(folder: Path) -> bool:
    """Return whether the folder is itself a house."""
    return any(path.name.casefold() in OF_ONE_HOUSE and path.is_file() for path in folder.iterdir())


def weigh_all(houses: Sequence[Path], out: Path | None, jobs: int | None, *, data: bool = False) -> Iterator[Told]:
    """Weigh houses, each by itself, and give what there is to say of each in their order, as it comes.

    Parameters
    ----------
    houses : sequence of Path
        Folders or files.
    out : Path, optional
        Where the page, the workbook and the JSON of each go, into a folder of its own; nothing is written without.
    jobs : int, optional
        Processes; as many as there are processors where not given.
    data : bool
        Whether the answers are wanted as JSON too.
    """
    work = partial(_told, data=data)
    places = [None if out is None else out / name for name in _folders(houses)]
    jobs = min(jobs or os.cpu_count() or 1, len(houses))
    if jobs <= 1:
        yield from map(work, houses, places)
        return
    with ProcessPoolExecutor(jobs) as workers:
        yield from workers.map(work, houses, places, chunksize=AT_ONCE)


def _folders(houses: Sequence[Path]) -> list[str]:
    """Return the name of each answer's folder: the house's own, its ending included where two would be alike."""
    names = Counter(answer_folder(house).name for house in houses)
    return [
        answer_folder(house).name if names[answer_folder(house).name] == 1 else f"{house.name}.answer"
        for house in houses
    ]


def _told(path: Path, place: Path | None, *, data: bool) -> Told:
    try:
        result = reconcile(read_house(path))
        row = answered(path, result, "" if place is None else save(result, place)[0].parent)
    except InputError as error:
        return _refused(path, [str(fault) for fault in error.faults], 2, data=data)
    except ReconcileError as error:
        return _refused(path, [str(error)], 2, data=data)
    except Exception as error:
        if os.environ.get(RAISE):
            raise
        return _refused(path, [f"a fault of the program ({type(error).__name__})"], 1, data=data)
    kept = {"path": str(path), "answer": plain(result.to_dict())} if data else {}
    first, *_ = sentences(row["headline"])  # a line a house: the table holds the rest
    return Told(path, row, f"{path.name}: {row['decision']}. {first}", _as_line(kept), 0)


def _refused(path: Path, problems: list[str], status: int, *, data: bool) -> Told:
    kept = {"path": str(path), "faults": problems} if data else {}
    line = f"{path.name}: {len(problems)} to be put right: {problems[0]}"
    return Told(path, refused(path, " ".join(problems)), line, _as_line(kept), status)


def _as_line(kept: dict[str, Any]) -> str:
    return json.dumps(kept, ensure_ascii=False) if kept else ""


def in_all(rows: Sequence[dict[str, Any]]) -> str:
    """Return how many houses ended in which decision, the commonest first.

    >>> in_all([{"decision": "explained"}, {"decision": "explained"}, {"to_be_put_right": "..."}])
    '3 houses: explained 2, to be put right 1.'
    """
    counts = Counter(row.get("decision", "to be put right") for row in rows)
    houses = "1 house" if len(rows) == 1 else f"{len(rows)} houses"
    return f"{houses}: {', '.join(f'{name} {count}' for name, count in counts.most_common())}."
