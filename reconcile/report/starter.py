"""A starter house: small files with examples and the words to fill them in by."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from reconcile.errors import OutputError
from reconcile.report.save import write_whole

STARTER = ("house.toml", "bills.csv", "loads.csv", "READ ME.txt")


def write_starter(folder: Path) -> tuple[Path, ...]:
    """Write the starter files into a folder, made where it is missing.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    tuple of Path

    Raises
    ------
    OutputError
        Where one of the files is already there, or the folder cannot be written. Then nothing is changed.
    """
    targets = [folder / name for name in STARTER]
    taken = [path.name for path in targets if path.exists() or path.is_symlink()]
    if taken:
        raise OutputError(f"{folder} already holds {', '.join(taken)}. Name a new folder; nothing was changed")
    source = files("reconcile.report").joinpath("templates")
    write_whole({path: source.joinpath(f"starter {path.name}").read_bytes() for path in targets})
    return tuple(targets)
