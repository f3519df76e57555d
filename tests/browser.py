"""A browser without a window: pages at a width, in the dark, in print, and what a script finds on them.

It is started once for many pages and told what to do through a pipe, in the DevTools protocol.
"""

from __future__ import annotations

import base64
import fcntl
import io
import json
import os
import select
import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pypdf import PdfReader

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
]
HIGH = 900
"""How high a screen is taken to be [px]: our choice, nothing asked of a page hangs on it."""
PATIENCE = 60.0
"""How long one command may take [s]: our choice, many times what the slowest takes."""


class Browser:
    """One browser; `close` ends it."""

    def __init__(self, folder: Path) -> None:
        self._page = folder / "page.html"
        # The browser reads its commands from 3 and answers on 4; the copies lie above both, whatever a pipe has here.
        ours_in, theirs_out = os.pipe()
        theirs_in, ours_out = os.pipe()
        ends = [fcntl.fcntl(end, fcntl.F_DUPFD_CLOEXEC, 10) for end in (theirs_in, theirs_out)]

        def lay_pipes() -> None:
            os.dup2(ends[0], 3)
            os.dup2(ends[1], 4)

        self._run = subprocess.Popen(
            [str(BROWSER), *FLAGS, f"--user-data-dir={folder / 'profile'}", "about:blank"],
            preexec_fn=lay_pipes,
            pass_fds=(3, 4),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for end in (theirs_in, theirs_out, *ends):
            os.close(end)
        self._answers, self._commands = ours_in, ours_out
        self._rest = b""
        self._count = 0
        self._session: dict[str, str] = {}
        page = next(target for target in self._tell("Target.getTargets")["targetInfos"] if target["type"] == "page")
        attached = self._tell("Target.attachToTarget", targetId=page["targetId"], flatten=True)
        self._session = {"sessionId": attached["sessionId"]}
        self._tell("Page.enable")

    def _message(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            assert select.select([self._answers], [], [], PATIENCE)[0], "the browser says nothing"
            more = os.read(self._answers, 1 << 20)
            assert more, "the browser has ended"
            self._rest += more
        message, _, self._rest = self._rest.partition(b"\0")
        return dict(json.loads(message))

    def _tell(self, method: str, **parameters: Any) -> dict[str, Any]:
        self._count += 1
        command = {"id": self._count, "method": method, "params": parameters, **self._session}
        whole = json.dumps(command).encode() + b"\0"
        while whole:
            whole = whole[os.write(self._commands, whole) :]
        while (answer := self._message()).get("id") != self._count:
            assert answer.get("method") != "Page.javascriptDialogOpening", f"the page opens a dialog: {answer}"
        assert "error" not in answer, answer
        return dict(answer["result"])

    def _value(self, script: str) -> Any:
        found = self._tell("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def _show(self, page: str) -> None:
        self._page.write_text(page, encoding="utf-8")
        self._tell("Page.navigate", url=self._page.as_uri())
        self._value(
            "new Promise(r => document.readyState === 'complete' ? r(0) : addEventListener('load', () => r(0)))"
        )

    def _screen(self, width: int, high: int, scheme: str = "light") -> None:
        self._tell("Emulation.setDeviceMetricsOverride", width=width, height=high, deviceScaleFactor=1, mobile=False)
        self._tell("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])

    def looked_at(self, page: str, script: str, width: int, scheme: str = "light") -> Any:
        """Return what a script, an expression or a promise, makes of a page shown this wide [px]."""
        self._screen(width, HIGH, scheme)
        self._show(page)
        return self._value(script)

    def shot(self, page: str, width: int, high: int) -> bytes:
        """Return a picture of a page on a screen of this size [px], as PNG."""
        self._screen(width, high)
        self._show(page)
        return base64.b64decode(self._tell("Page.captureScreenshot")["data"])

    def printed(self, page: str) -> PdfReader:
        """Print a page as a browser does where nobody sets anything."""
        from pypdf import PdfReader

        self._tell("Emulation.clearDeviceMetricsOverride")
        self._tell("Emulation.setEmulatedMedia", features=[])
        self._show(page)
        made = self._tell("Page.printToPDF", printBackground=True, preferCSSPageSize=True)
        return PdfReader(io.BytesIO(base64.b64decode(made["data"])))

    def close(self) -> None:
        """End the browser."""
        self._session = {}
        self._tell("Browser.close")
        for end in (self._commands, self._answers):
            os.close(end)
        self._run.wait(PATIENCE)
