"""Write the answer beside the input: whole files or none, and never over anybody else's."""

from __future__ import annotations

import json
import os
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reconcile.errors import OutputError
from reconcile.result import SCHEMA

if TYPE_CHECKING:
    from collections.abc import Callable

    from reconcile.result import Reconciliation

PAGE, WORKBOOK, DATA = "report.html", "reconciliation.xlsx", "result.json"
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
    stem = house.stem if house.suffix.lower() in (".xlsx", ".xlsm") else house.name
    return house.with_name(f"{stem}.answer")


def save(result: Reconciliation, folder: Path) -> tuple[Path, ...]:
    """Write ``report.html``, ``reconciliation.xlsx`` and ``result.json`` into a folder, made where it is missing.

    Parameters
    ----------
    result : Reconciliation
    folder : Path

    Returns
    -------
    tuple of Path
        The files, in that order.

    Raises
    ------
    OutputError
        Where the folder cannot be written, or one of the names is taken by a file this program did not make. Then
        nothing is changed.
    """
    from reconcile.report.answer_workbook import workbook_bytes
    from reconcile.report.html import render

    targets = {
        folder / PAGE: _is_own_page,
        folder / WORKBOOK: _is_own_workbook,
        folder / DATA: _is_own_data,
    }
    for path, is_own in targets.items():
        _refuse_strangers(path, is_own)
    data = json.dumps(result.to_dict(), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    contents = (render(result).encode(errors="replace"), workbook_bytes(result), data.encode(errors="replace"))
    write_whole(dict(zip(targets, contents, strict=True)))
    return tuple(targets)


def save_page(page: str, path: Path) -> Path:
    """Write one HTML page; only a page of the program's own is replaced.

    Parameters
    ----------
    page : str
    path : Path

    Returns
    -------
    Path

    Raises
    ------
    OutputError
        As :func:`save`.
    """
    _refuse_strangers(path, _is_own_page)
    write_whole({path: page.encode(errors="replace")})
    return path


def save_new(contents: dict[Path, bytes]) -> tuple[Path, ...]:
    """Write files that somebody will fill in or change, so that none that is there is ever replaced.

    Parameters
    ----------
    contents : dict of Path to bytes

    Returns
    -------
    tuple of Path

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
    write_whole(contents)
    return tuple(contents)


def write_whole(contents: dict[Path, bytes]) -> None:
    """Write files so that each is either wholly there or as it was before.

    Parameters
    ----------
    contents : dict of Path to bytes

    Raises
    ------
    OutputError
        Where one cannot be written; the ones not yet in place are left as they were.
    """
    parts: dict[Path, Path] = {}
    try:
        for path, content in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            part = path.with_name(f".{path.name}.{os.getpid()}.part")
            with open(part, "xb") as file:
                parts[path] = part
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        for path, part in parts.items():
            os.replace(part, path)
    except OSError as error:
        place = error.filename or next(iter(contents)).parent
        raise OutputError(f"{place} cannot be written: {error.strerror or error}") from error
    finally:
        for part in parts.values():
            part.unlink(missing_ok=True)


def _refuse_strangers(path: Path, is_own: Callable[[Path], bool]) -> None:
    if not path.exists() and not path.is_symlink():
        return
    try:
        own = path.is_file() and not path.is_symlink() and is_own(path)
    except (OSError, ValueError, zipfile.BadZipFile, KeyError):
        own = False
    if not own:
        raise OutputError(
            f"{path} is already there and was not made by this program. Move it away, or name another folder with --out"
        )


def _is_own_page(path: Path) -> bool:
    with open(path, "rb") as file:
        head = file.read(_MARKED_WITHIN)
    return b'<meta name="generator" content="reconcile ' in head


def _is_own_workbook(path: Path) -> bool:
    from reconcile.report.answer_workbook import MARKER

    with zipfile.ZipFile(path) as archive:
        return MARKER.encode() in archive.read("docProps/core.xml")


def _is_own_data(path: Path) -> bool:
    data: Any = json.loads(path.read_bytes())
    return isinstance(data, dict) and data.get("schema") == SCHEMA
