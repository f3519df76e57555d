"""What was given and what came of it, kept in a folder of its own until the program ends or many more have come."""

from __future__ import annotations

import io
import secrets
import shutil
import tempfile
import zipfile
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from threading import Lock

from reconcile.answer import reconcile
from reconcile.page.given import Given, as_files, is_printed, write
from reconcile.read import read_house
from reconcile.records import dataclass
from reconcile.result import Reconciliation

MOST_KEPT = 20
"""Houses that are kept at once; the oldest gives way (our choice: more than a person goes back to)."""
MOST_HELD = 400_000_000
"""Bytes of all their files; the oldest gives way (a guard, our choice: twice what may come at once)."""
HOUSE = "Your house"
"""What a house without a name is called: its folder's name, and so its name."""


@dataclass(frozen=True, slots=True)
class Visit:
    """One house as it was given, and its answer where it could be weighed."""

    token: str
    given: Given
    result: Reconciliation | None = None


class Visits:
    """The houses of one run of the program; each is weighed by itself, one at a time.

    Parameters
    ----------
    folder : Path
        Empty and the program's own; what is given lies here while it is read.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._kept: OrderedDict[str, Visit] = OrderedDict()
        self._lock, self._at_work = Lock(), Lock()

    def get(self, token: str) -> Visit | None:
        """Return a visit by its token; None where it is not, or no longer, kept."""
        return self._kept.get(token)

    def keep(self, given: Given) -> Visit:
        """Keep what was given, so that it can be used again."""
        return self._keep(Visit(secrets.token_urlsafe(16), given))

    def _keep(self, visit: Visit) -> Visit:
        with self._lock:
            self._kept[visit.token] = visit
            while len(self._kept) > 1 and (len(self._kept) > MOST_KEPT or self._held() > MOST_HELD):
                self._kept.popitem(last=False)
        return visit

    def _held(self) -> int:
        """Bytes of all files; what several visits share is held once."""
        contents = (content for visit in self._kept.values() for content in visit.given.files.values())
        return sum({id(content): len(content) for content in contents}.values())

    def weigh(self, visit: Visit) -> Visit:
        """Weigh the house and keep the answer.

        Raises
        ------
        InputError
            With every fault of what was given.
        """
        with self._at_work:
            place = self._folder / visit.token / HOUSE
            try:
                write(visit.given, place)
                return self._keep(replace(visit, result=reconcile(read_house(place))))
            finally:
                shutil.rmtree(place.parent, ignore_errors=True)

    def to_confirm(self, given: Given) -> Given:
        """Return the house with its printed bills as a table that a person has to confirm, in place of their files.

        Raises
        ------
        InputError
            Where a file cannot be read as text, or bills are typed beside it.
        """
        from reconcile.read.wrappings.printed_bills import PrintedBill, find_printed, table_to_confirm

        as_files(given)  # bills that are typed too are a fault
        found: list[PrintedBill] = []
        with tempfile.TemporaryDirectory(dir=self._folder) as folder:
            for path in filter(is_printed, given.files):
                place = Path(folder, path.partition("/")[2])
                place.write_bytes(given.files[path])
                found += find_printed(place)
        files = {path: content for path, content in given.files.items() if not is_printed(path)}
        return replace(given, typed={**given.typed, "bills": table_to_confirm(found)}, files=files)

    def made(self, make: Callable[[], bytes]) -> bytes:
        """Make a file of an answer, one at a time: the drawings are shared."""
        with self._at_work:
            return make()


def zipped(given: Given) -> bytes:
    """Return what was given as the folder of a house in a zip file."""
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in as_files(given).items():
            archive.writestr(f"house/{name}", content)
    return kept.getvalue()
