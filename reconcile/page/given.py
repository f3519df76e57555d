"""What a person gives on the local page, laid out as the files of a house."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from dataclasses import field
from pathlib import Path, PurePosixPath, PureWindowsPath

from reconcile.errors import Fault, InputError
from reconcile.house import DANGERS
from reconcile.records import dataclass

TYPED = {"bills": "bills.txt", "loads": "loads.txt", "events": "events.txt"}
"""What may be typed or pasted, and the file that it becomes."""
SLOTS = ("bills", "loads", "weather", "interval", "other")
"""What files may be given as."""
NUMBER = re.compile(r"-?\d{1,15}(\.\d{1,15})?", re.ASCII)
SETTINGS = {
    "name": ("house", "name"),
    "timezone": ("house", "timezone"),
    "currency": ("house", "currency"),
    "temperature_unit": ("house", "temperature_unit"),
    "floor_area": ("house", "floor_area"),
    "occupants": ("house", "occupants"),
    "heating_fuel": ("house", "heating_fuel"),
    "water_heating_fuel": ("house", "water_heating_fuel"),
    "generation": ("house", "generation"),
    "coldest_month_mean": ("site", "coldest_month_mean"),
    "warmest_month_mean": ("site", "warmest_month_mean"),
    "dates": ("bills", "dates"),
    "date_format": ("bills", "date_format"),
}
"""Fields of the page and the keys of ``house.toml`` that they are."""
YES = "yes"
"""Value of a box that was ticked."""
LONGEST_NAME = 200
"""Bytes of a file's name that are kept, of the 255 that file systems take (our choice: there is room for a number)."""


@dataclass(frozen=True, slots=True)
class Given:
    """What was typed, chosen and ticked.

    Attributes
    ----------
    typed : mapping of str to str
        Texts by the names of :data:`TYPED`.
    settings : mapping of str to str
        By the names of :data:`SETTINGS`, as typed; empty ones are as if not given.
    dangers : tuple of str
        Signs of danger that were ticked.
    files : mapping of str to bytes
        Files by slot and name, as ``bills/2024.csv``.
    """

    typed: Mapping[str, str] = field(default_factory=dict)
    settings: Mapping[str, str] = field(default_factory=dict)
    dangers: tuple[str, ...] = ()
    files: Mapping[str, bytes] = field(default_factory=dict)

    @property
    def bytes(self) -> int:
        """Of all files."""
        return sum(map(len, self.files.values()))

    @property
    def empty(self) -> bool:
        """Whether there is nothing to weigh."""
        return not (self.files or self.dangers or any(text.strip() for text in self.typed.values()))


def own_name(name: str) -> str:
    """Return a file's name without the folders and the letters that a file system may refuse.

    >>> own_name("C:/Users/me/my bills.csv"), own_name("../../etc/passwd"), own_name("...")
    ('my bills.csv', 'passwd', 'file')
    """
    last = PureWindowsPath(PurePosixPath(name).name).name
    kept = "".join(letter for letter in last if letter.isprintable() and letter not in '<>:"/\\|?*').rstrip(" .")
    return kept.encode()[-LONGEST_NAME:].decode(errors="ignore").strip(" .") or "file"


def is_printed(path: str) -> bool:
    """Return whether a file, by its slot and name, is one of printed bills."""
    return path.startswith("bills/") and path.casefold().endswith(".pdf")


def as_files(given: Given) -> dict[str, bytes]:
    """Return the files of the house, by their names in its folder.

    Raises
    ------
    InputError
        Where one thing was given twice.
    """
    faults = [
        Fault(
            "this page",
            f"the {name} were typed and a file of them was given too",
            "Empty the field, or take the file away.",
        )
        for name in TYPED
        if given.typed.get(name, "").strip() and any(path.startswith(f"{name}/") for path in given.files)
    ]
    files = {
        file: text.replace("\r\n", "\n").encode()
        for name, file in TYPED.items()
        if (text := given.typed.get(name, "").strip("\r\n ")) and text
    }
    for slot in SLOTS:
        mine = [path for path in given.files if path.startswith(f"{slot}/")]
        for path in mine:
            place = _place(slot, path.partition("/")[2], alone=len(mine) == 1)
            if place in files:
                faults.append(Fault(place, "two files have this name", "Give one, or another name."))
            files[place] = given.files[path]
    settings = settings_toml(given)
    if settings and "house.toml" in files:
        faults.append(
            Fault(
                "house.toml",
                "the file was given and fields of it were filled in too",
                "Empty the fields, or leave it out.",
            )
        )
    if faults:
        raise InputError(faults)
    return files | ({"house.toml": settings.encode()} if settings else {})


def _place(slot: str, name: str, *, alone: bool) -> str:
    """Where a file stands in the house's folder: one of bills is ``bills.csv`` whatever it was called."""
    if slot == "interval" or name.casefold() == "interval":
        return f"interval/{name}"
    endings = "".join(Path(name).suffixes[-2:] if name.casefold().endswith(".gz") else Path(name).suffixes[-1:])
    return f"{slot}{endings.casefold()}" if alone and slot != "other" else name


def settings_toml(given: Given) -> str:
    """Return ``house.toml`` of the fields that were filled in; empty where there are none.

    >>> print(settings_toml(Given(settings={"occupants": "3", "floor_area": "1600 ft^2"}, dangers=("buzzing",))))
    [house]
    floor_area = "1600 ft^2"
    occupants = 3
    <BLANKLINE>
    [danger]
    buzzing = true
    <BLANKLINE>
    """
    parts: dict[str, list[str]] = {}
    for name, (part, key) in SETTINGS.items():
        value = given.settings.get(name, "").strip()
        if value:
            parts.setdefault(part, []).append(f"{key} = {_toml(name, value)}")
    for sign in DANGERS:
        if sign in given.dangers:
            parts.setdefault("danger", []).append(f"{sign} = true")
    return "\n".join("\n".join([f"[{part}]", *lines, ""]) for part, lines in parts.items())


def _toml(name: str, value: str) -> str:
    if name == "generation":
        return "true" if value == YES else "false"
    if name not in ("name", "currency") and NUMBER.fullmatch(value):
        return str(float(value) if "." in value else int(value))
    return json.dumps("".join(letter if letter.isprintable() else " " for letter in value), ensure_ascii=False)


def write(given: Given, folder: Path) -> None:
    """Write the files of the house into a folder that is empty or not there.

    Raises
    ------
    InputError
        As :func:`as_files`; then nothing is written.
    """
    files = as_files(given)
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def local_timezone() -> str:
    """Return the computer's own time zone by its name; empty where it does not say."""
    import zoneinfo

    told = os.environ.get("TZ", "").lstrip(":")
    if not told:
        parts = Path(os.path.realpath("/etc/localtime")).parts
        told = "/".join(parts[parts.index("zoneinfo") + 1 :]) if "zoneinfo" in parts else ""
    return told if "/" in told and not told.startswith("Etc/") and told in zoneinfo.available_timezones() else ""
