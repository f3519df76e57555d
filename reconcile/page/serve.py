"""Start the local page, say where it is, and stay until it is ended."""

from __future__ import annotations

import contextlib
import socket
import sys
import tempfile
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn

from reconcile.errors import OutputError
from reconcile.page.app import make_app
from reconcile.texts import local_words as words

HERE = "127.0.0.1"
"""The computer itself: no other can reach it."""


def serve(port: int, *, browser: bool, say: Callable[[str], None]) -> None:
    """Serve the page until it is interrupted; what was given is then forgotten.

    Parameters
    ----------
    port : int
        Where; 0 for any that is free.
    browser : bool
        Whether to open it in the browser.
    say : callable
        Takes the line that tells where it is.

    Raises
    ------
    OutputError
        Where the port cannot be had.
    """
    with listening_at(port) as listening:
        port = listening.getsockname()[1]
        with tempfile.TemporaryDirectory(prefix="reconcile-") as folder:
            server = uvicorn.Server(
                uvicorn.Config(make_app(Path(folder), port), log_level="critical", server_header=False, lifespan="off")
            )
            url = f"http://{HERE}:{port}/"
            say(words.READY.format(url=url))
            if browser:
                webbrowser.open(url)
            with contextlib.suppress(KeyboardInterrupt):  # that is how it is ended
                server.run(sockets=[listening])


def listening_at(port: int) -> socket.socket:
    """Return a socket of this computer alone.

    Raises
    ------
    OutputError
        Where the port cannot be had.
    """
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":  # there it would share a port that is in use
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HERE, port))
        listening.listen()  # so that nobody who asks at once is turned away
    except OSError as error:
        listening.close()
        raise OutputError(words.TAKEN.format(port=port, why=error.strerror or error)) from error
    return listening
