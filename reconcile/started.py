"""How the program was started, so that what it tells a person to type works as typed."""

from __future__ import annotations

import shlex
import shutil
import sys
from pathlib import Path

NAME = "reconcile"


def typed(*words: str) -> str:
    """Return a command line that starts the program the way it was started, with these words.

    Parameters
    ----------
    *words : str
        Command, options and places.

    Returns
    -------
    str
        Quoted for the shell of the system.
    """
    parts = [*_program(), *words]
    if sys.platform == "win32":
        from subprocess import list2cmdline  # a tenth of the time to start

        return list2cmdline(parts)
    return shlex.join(parts)


def _program() -> list[str]:
    script = Path(sys.argv[0]) if sys.argv and sys.argv[0] else Path(NAME)
    if script.name == "__main__.py" and script.parent.name == NAME:
        return [_interpreter(), "-m", NAME]
    if script.stem != NAME:
        return [NAME]  # called from other code: nobody knows how it will be started
    found = shutil.which(NAME)
    if found is not None and _same(Path(found), script):
        return [NAME]
    return [sys.argv[0]]


def _interpreter() -> str:
    """Return the interpreter as it was typed, where that still finds it."""
    first = sys.orig_argv[0] if sys.orig_argv else sys.executable
    return first if shutil.which(first) else sys.executable


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False
