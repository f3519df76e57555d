"""Say on the terminal what goes on, where it takes longer than a moment; nothing anywhere else."""

from __future__ import annotations

import contextlib
import sys
import threading
from collections.abc import Iterator

AFTER_S = 1.0
"""Time after which a person wonders [s] (common practice)."""


@contextlib.contextmanager
def doing(what: str) -> Iterator[None]:
    """Print ``what`` to a terminal's stderr, once, where the block takes longer than :data:`AFTER_S`.

    Parameters
    ----------
    what : str
        ``Weighing 16 bills``.
    """
    stream = sys.stderr
    if stream is None or not stream.isatty():
        yield
        return

    def say() -> None:
        with contextlib.suppress(OSError, ValueError):
            print(f"{what} ...", file=stream, flush=True)

    timer = threading.Timer(AFTER_S, say)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
