"""A starter house: small files with examples and the words to fill them in by."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from reconcile.report.save import save_new

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
    source = files("reconcile.report").joinpath("templates")
    return save_new({folder / name: source.joinpath(f"starter {name}").read_bytes() for name in STARTER})
