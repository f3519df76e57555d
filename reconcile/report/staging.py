"""Files that appear together: written aside, then put in place in one step, and nothing left where a run was ended.

What is written aside stands in a folder ``.NAME.xxxxxxxx.new``, locked while its run lives; the next run takes away
those whose run is gone.
"""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import itertools
import json
import os
import secrets
import shutil
import sys
import time
from collections.abc import Iterator, Mapping
from pathlib import Path

RECORD = ".written.json"
"""Beside the answer: what this program wrote there, by the hash of each file."""
_ENDING = ".new"
_LABEL = 60
"""Letters of a folder's name that stand in that of the folder aside: together they stay under a file system's 255."""
_TRIES = 5 if os.name == "posix" else 0
"""Folders tried for one that this run can lock."""
_ASSUMED_DEAD_S = 3600.0
"""Age at which a folder aside counts as left behind where the system has no locks [s] (common practice)."""
_HASHES_KEPT = 2
"""Of each file, the hashes of so many writings: the last one, and the one it replaces while it is being replaced."""

Hashes = Mapping[str, tuple[str, ...]]


def hash_of(content: bytes) -> str:
    """Return the hash by which a file is known again."""
    return hashlib.sha256(content).hexdigest()


def recorded(folder: Path) -> dict[str, tuple[str, ...]]:
    """Return the hashes of what this program wrote into a folder, by name; empty where nothing is known."""
    try:
        read = json.loads((folder / RECORD).read_bytes())
        return {str(name): tuple(map(str, hashes)) for name, hashes in read["written"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def is_unchanged(path: Path, hashes: Hashes) -> bool:
    """Whether a file is, byte for byte, one that this program wrote there."""
    try:
        return not path.is_symlink() and path.is_file() and hash_of(path.read_bytes()) in hashes.get(path.name, ())
    except OSError:
        return False


def put_together(folder: Path, contents: Mapping[str, bytes]) -> None:
    """Write files into a folder so that all of them change together, and record their hashes.

    A folder that holds nothing else is exchanged whole, in one step of the system, where the system has one. Otherwise
    (other files stand there, or the folder is where somebody works) each file is replaced whole, one right after the
    other.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    contents : mapping of str to bytes
        By name.

    Raises
    ------
    OSError
        Where it cannot be written; what was there is then as it was.
    """
    real = folder.resolve()
    sweep(real)
    known = recorded(real)
    hashes = {**known, **{name: (hash_of(content),) for name, content in contents.items()}}
    if not real.exists():
        real.parent.mkdir(parents=True, exist_ok=True)
        with _aside(real.parent, real.name) as staged:
            _fill(staged, {**contents, RECORD: _record(hashes)})
            try:
                os.rename(staged, real)
                return
            except OSError:  # another run was faster
                if not real.is_dir():
                    raise
    if _is_ours_alone(real, contents) and _exchanged(real, {**contents, RECORD: _record(hashes)}):
        return
    both = {name: (*new, *known.get(name, ()))[:_HASHES_KEPT] for name, new in hashes.items()}
    replace_each(real, {RECORD: _record(both), **contents})


def replace_each(folder: Path, contents: Mapping[str, bytes]) -> None:
    """Replace files of a folder one right after the other, each whole.

    Raises
    ------
    OSError
        Where they cannot be written; the ones not yet in place are left as they were.
    """
    folder.mkdir(parents=True, exist_ok=True)
    sweep(folder)
    with _aside(folder, folder.name) as staged:
        _fill(staged, contents)
        for name in contents:
            os.replace(staged / name, folder / name)


def sweep(folder: Path) -> None:
    """Take away what runs that were ended left beside a folder and in it."""
    for place in (folder.parent, folder):
        with contextlib.suppress(OSError):
            for left in place.glob(f".{_quoted(folder.name[:_LABEL])}.????????{_ENDING}"):
                lock = _lock(left)
                if lock is not None:
                    shutil.rmtree(left, ignore_errors=True)
                    _unlock(lock)


def _exchanged(real: Path, contents: Mapping[str, bytes]) -> bool:
    """Exchange a folder for a new one; False, with nothing changed, where the system cannot."""
    try:
        with _aside(real.parent, real.name) as staged:
            _fill(staged, contents)
            shutil.copymode(real, staged)
            return _exchange(staged, real)
    except OSError:  # the folder may be written, the one it stands in not; a full disk is told by the other way
        return False


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two folders of one file system in one step.

    Notes
    -----
    renameat2(2) with RENAME_EXCHANGE on Linux, renamex_np(2) with RENAME_SWAP on macOS; no other system has it.
    """
    system: str = sys.platform
    flag, here = 2, -100  # RENAME_EXCHANGE and RENAME_SWAP are both 2; AT_FDCWD of Linux
    names = os.fsencode(one), os.fsencode(other)
    try:
        library = ctypes.CDLL(None, use_errno=True)
        if system == "linux":
            return bool(library.renameat2(here, names[0], here, names[1], flag) == 0)
        if system == "darwin":
            return bool(library.renamex_np(names[0], names[1], flag) == 0)
    except (OSError, AttributeError, TypeError):
        pass
    return False


def _is_ours_alone(folder: Path, contents: Mapping[str, bytes]) -> bool:
    """Whether a folder holds only what will be replaced, and nobody stands in it."""
    if not {path.name for path in folder.iterdir()} <= {*contents, RECORD} or os.path.ismount(folder):
        return False
    try:
        here = Path.cwd().resolve()
    except OSError:
        return True
    return folder != here and folder not in here.parents


@contextlib.contextmanager
def _aside(place: Path, name: str) -> Iterator[Path]:
    """Make a locked folder aside, and take it away in the end."""
    for attempt in itertools.count():
        made = place / f".{name[:_LABEL]}.{secrets.token_hex(4)}{_ENDING}"
        made.mkdir()
        lock = _lock(made)
        # one that another run has locked, or taken away, it took for one left behind; some systems have no locks
        if made.exists() and (lock is not None or attempt >= _TRIES):
            break
        _unlock(lock)
        with contextlib.suppress(OSError):
            made.rmdir()
    try:
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)
        _unlock(lock)


def _fill(folder: Path, contents: Mapping[str, bytes]) -> None:
    for name, content in contents.items():
        with open(folder / name, "xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())


def _lock(folder: Path) -> int | None:
    """Lock a folder aside; None where its run lives. The lock goes when its process does, however that ends."""
    try:
        import fcntl
    except ImportError:  # no such locks on Windows
        try:
            return -1 if time.time() - folder.stat().st_mtime > _ASSUMED_DEAD_S else None
        except OSError:
            return None
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        return None
    return handle


def _unlock(lock: int | None) -> None:
    if lock is not None and lock >= 0:
        os.close(lock)


def _record(hashes: Hashes) -> bytes:
    text = json.dumps({"about": "what the program wrote here, by sha256", "written": hashes}, indent=1, sort_keys=True)
    return f"{text}\n".encode()


def _quoted(name: str) -> str:
    return "".join(f"[{letter}]" if letter in "*?[" else letter for letter in name)
