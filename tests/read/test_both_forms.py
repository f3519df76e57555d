"""A folder and a workbook of the same house read to the same House, and neither is touched."""

from __future__ import annotations

import hashlib
import tempfile
from dataclasses import replace
from pathlib import Path

from house_files import write_folder, write_workbook
from hypothesis import given, settings
from strategies import houses

from reconcile.house import House
from reconcile.read import read_house


def bare(house: House) -> House:
    """Return the house without what only its files can know: rows and notices."""
    return replace(
        house,
        bills=tuple(replace(bill, row=None) for bill in house.bills),
        loads=tuple(replace(load, row=None) for load in house.loads),
        events=tuple(replace(event, row=None) for event in house.events),
        notices=(),
    )


def fingerprint(place: Path) -> dict[str, tuple[str, int, int]]:
    files = [place] if place.is_file() else sorted(place.rglob("*"))
    return {
        str(f): (hashlib.sha256(f.read_bytes()).hexdigest(), f.stat().st_mtime_ns, f.stat().st_size)
        for f in files
        if f.is_file()
    }


@given(house=houses(most_bills=8, most_loads=5))
@settings(max_examples=30, deadline=None)
def test_what_is_written_is_read_in_both_forms_and_left_alone(house: House) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = write_folder(house, Path(place) / "house")
        book = write_workbook(house, Path(place) / "house.xlsx")
        before = fingerprint(Path(place))
        from_folder, from_book = read_house(folder), read_house(book)
        assert fingerprint(Path(place)) == before
    assert from_folder == from_book
    assert bare(from_folder) == house


def test_names_come_from_the_place_where_none_is_given(tmp_path: Path) -> None:
    folder = tmp_path / "Elm End"
    folder.mkdir()
    (folder / "bills.csv").write_text("start,end,kwh\n2025-01-01,2025-02-01,900\n")
    house = read_house(folder)
    assert house.name == "Elm End"
    assert house == House(name="Elm End", bills=house.bills)
