"""Write the answer beside the input: all of it or nothing, and never over what is anybody else's or was changed."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reconcile.errors import OutputError
from reconcile.read.wrappings.sources import BOOKS, TEXT_TABLES
from reconcile.report import staging
from reconcile.result import SCHEMA

if TYPE_CHECKING:
    from reconcile.result import Reconciliation

PAGE, WORKBOOK, DATA = "report.html", "reconciliation.xlsx", "result.json"
_MOST_NUMBERS = 1000
_MARKED_WITHIN = 2000
"""A page's marker stands in its head: so many bytes are read for it."""


def answer_folder(house: Path) -> Path:
    """Return the folder for the answer to a house: beside its folder or workbook, named after it.

    Examples
    --------
    >>> answer_folder(Path("bills/larkmoor.xlsx")).as_posix(), answer_folder(Path("bills/larkmoor")).as_posix()
    ('bills/larkmoor.answer', 'bills/larkmoor.answer')
    """
    house = house.resolve() if house.name in ("", ".", "..") else house
    stem = house.stem if house.suffix.casefold() in (*BOOKS, *TEXT_TABLES) else house.name
    return house.with_name(f"{stem}.answer")


def save(result: Reconciliation, folder: Path) -> tuple[Path, ...]:
    """Write ``report.html``, ``reconciliation.xlsx`` and ``result.json`` into a folder, made where it is missing.

    All three change together or not at all. Where a person has changed one of them since it was written, none is
    touched: the answer goes into a folder beside, ``NAME-2``, ``NAME-3`` ...

    Returns
    -------
    tuple of Path
        The files, in that order, wherever they were written.

    Raises
    ------
    OutputError
        Where the folder cannot be written, or one of the names is taken by a file this program did not make. Then
        nothing is changed.
    """
    from reconcile.report.pages.html import render
    from reconcile.report.workbooks.answer_workbook import workbook_bytes

    place = _free_folder(folder)
    data = json.dumps(result.to_dict(), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    contents = {
        PAGE: render(result).encode(errors="replace"),
        WORKBOOK: workbook_bytes(result),
        DATA: data.encode(errors="replace"),
    }
    with _told(place):
        staging.put_together(place, contents)
    return tuple(place / name for name in contents)


def save_page(page: str, path: Path) -> Path:
    """Write one HTML page; one that a person has changed is kept, and the page goes beside it with a number.

    Returns
    -------
    Path
        Where it was written.

    Raises
    ------
    OutputError
        As :func:`save`.
    """
    name = _free_name(path)
    with _told(path.parent):
        staging.put_together(path.parent, {name: page.encode(errors="replace")})
    return path.with_name(name)


def save_new(contents: dict[Path, bytes]) -> tuple[Path, ...]:
    """Write files that somebody will fill in or change, so that none that is there is ever replaced.

    Raises
    ------
    OutputError
        Where one is already there, or cannot be written. Then nothing is changed.
    """
    taken = [path.name for path in contents if path.exists() or path.is_symlink()]
    if taken:
        folder = next(iter(contents)).parent
        raise OutputError(
            f"{folder} already holds {', '.join(taken)}, perhaps filled in. Name another folder; nothing was changed"
        )
    folder = next(iter(contents)).parent
    write_whole(contents)
    return tuple(contents)


def write_whole(contents: dict[Path, bytes]) -> None:
    """Write files of one folder so that each is either wholly there or as it was before.

    Raises
    ------
    OutputError
        Where one cannot be written; the ones not yet in place are left as they were.
    """
    folder = next(iter(contents)).parent
    with _told(folder):
        staging.replace_each(folder, {path.name: content for path, content in contents.items()})


@contextmanager
def _told(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise OutputError(f"{error.filename or folder} cannot be written: {error.strerror or error}") from error


def _free_folder(folder: Path) -> Path:
    """Return the folder itself, or the first with a number whose files nobody has changed."""
    named = folder.resolve() if folder.name in ("", "..") else folder
    for number in range(1, _MOST_NUMBERS):
        place = folder if number == 1 else named.with_name(f"{named.name}-{number}")
        states = [_state(place / name, staging.recorded(place)) for name in MARKED]
        if "stranger" in states and number == 1:
            raise _taken(place / list(MARKED)[states.index("stranger")])
        if not {"changed", "stranger"} & set(states):
            return place
    raise OutputError(f"{folder} has {_MOST_NUMBERS} changed answers beside it. Move some away")


def _free_name(path: Path) -> str:
    known = staging.recorded(path.parent)
    for number in range(1, _MOST_NUMBERS):
        name = path.name if number == 1 else f"{path.stem}-{number}{path.suffix}"
        state = _state(path.with_name(name), known, MARKED[PAGE])
        if state == "stranger" and number == 1:
            raise _taken(path)
        if state in ("free", "unchanged"):
            return name
    raise OutputError(f"{path} has {_MOST_NUMBERS} changed pages beside it. Move some away")


def _state(path: Path, known: staging.Hashes, is_own: Callable[[Path], bool] | None = None) -> str:
    """Whether a file is ``free`` (not there), ``unchanged`` since it was written, ``changed``, or a ``stranger``."""
    if not path.exists() and not path.is_symlink():
        return "free"
    if staging.is_unchanged(path, known):
        return "unchanged"
    if path.name in known:
        return "changed"
    try:
        own = path.is_file() and not path.is_symlink() and (is_own or MARKED[path.name])(path)
    except (OSError, ValueError, zipfile.BadZipFile, KeyError, RecursionError, NotImplementedError):
        own = False
    return "changed" if own else "stranger"


def _taken(path: Path) -> OutputError:
    return OutputError(
        f"{path} is already there and was not made by this program. Move it away, or name another folder with --out"
    )


def _is_own_page(path: Path) -> bool:
    with open(path, "rb") as file:
        head = file.read(_MARKED_WITHIN)
    return b'<meta name="generator" content="reconcile ' in head


def _is_own_workbook(path: Path) -> bool:
    from reconcile.report.workbooks.answer_workbook import MARKER

    with zipfile.ZipFile(path) as archive:
        return MARKER.encode() in archive.read("docProps/core.xml")


def _is_own_data(path: Path) -> bool:
    data: Any = json.loads(path.read_bytes())
    return isinstance(data, dict) and data.get("schema") == SCHEMA


MARKED: dict[str, Callable[[Path], bool]] = {PAGE: _is_own_page, WORKBOOK: _is_own_workbook, DATA: _is_own_data}
"""The answer's files, and how one is known that has no record beside it."""
