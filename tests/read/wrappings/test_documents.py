"""Tables in what word processors write and in packed texts; houses are invented."""

from __future__ import annotations

import gzip
import zipfile
from datetime import date
from pathlib import Path

import pytest

from reconcile.errors import InputError
from reconcile.read import read_house

ROWS = [["From", "To", "kWh"], ["2024-01-09", "2024-02-08", "812"], ["2024-02-08", "2024-03-09", "744"]]
BILLS = [(date(2024, 1, 9), date(2024, 2, 8), 812.0), (date(2024, 2, 8), date(2024, 3, 9), 744.0)]


def bills(folder: Path) -> list[tuple[date, date, float | None]]:
    return [(bill.start, bill.end, bill.kwh) for bill in read_house(folder).bills]


def test_a_table_of_a_document(tmp_path: Path) -> None:
    rows = "".join(
        f"<w:tr>{''.join(f'<w:tc><w:p><w:r><w:t>{cell}</w:t></w:r></w:p></w:tc>' for cell in row)}</w:tr>"
        for row in ROWS
    )
    with zipfile.ZipFile(tmp_path / "our bills.docx", "w") as archive:
        archive.writestr("word/document.xml", f"<w:document><w:body><w:tbl>{rows}</w:tbl></w:body></w:document>")
    assert bills(tmp_path) == BILLS


def test_rich_text(tmp_path: Path) -> None:
    lines = "\\\n".join(", ".join(row) for row in ROWS)
    (tmp_path / "bills.rtf").write_text(rf"{{\rtf1\ansi{{\fonttbl\f0\fswiss Helvetica;}}\f0\fs24 {lines}\par}}")
    assert bills(tmp_path) == BILLS


def test_packed_tables_are_read_by_the_name_of_the_table(tmp_path: Path) -> None:
    text = "\n".join(",".join(row) for row in ROWS)
    (tmp_path / "bills.csv.gz").write_bytes(gzip.compress(text.encode()))
    weather = "date,tmax C,tmin C\n" + "".join(f"2024-02-{day:02d},5,-3\n" for day in range(1, 29))
    (tmp_path / "weather.csv.gz").write_bytes(gzip.compress(weather.encode()))
    assert bills(tmp_path) == BILLS
    found = read_house(tmp_path).weather
    assert found is not None
    assert len(found.mean_c) == 28


def test_every_line_that_is_not_proper_csv_is_told(tmp_path: Path) -> None:
    lines = [",".join(row) for row in ROWS]
    text = f'{lines[0]},note\n{lines[1]},"6" pipe\n{lines[2]},fine\n2024-03-09,2024-04-09,"7" pipe\n2024-04-09,soon,9\n'
    (tmp_path / "bills.csv").write_text(text)
    with pytest.raises(InputError) as told:
        read_house(tmp_path)
    assert [fault.row for fault in told.value.faults] == [2, 4, 5]


def test_amounts_in_dollars_and_in_euros_are_asked_about(tmp_path: Path) -> None:
    rows = ["2024-01-09,2024-02-08,812,$99.10", "2024-02-08,2024-03-09,744,\N{EURO SIGN}90.20"]
    (tmp_path / "bills.csv").write_text("\n".join(["From,To,kWh,Amount", *rows]), encoding="utf-8")
    with pytest.raises(InputError, match=r"in \$ and in EUR"):
        read_house(tmp_path)


@pytest.mark.parametrize(
    ("begin", "problem"),
    [(b"%PDF-1.4 ", "this is a PDF, whatever its name says"), (b"<html><body>Log in", "no table is found in it")],
)
def test_a_file_is_what_stands_in_it_whatever_its_name(tmp_path: Path, begin: bytes, problem: str) -> None:
    (tmp_path / "bills.csv").write_bytes(begin)
    with pytest.raises(InputError, match=problem):
        read_house(tmp_path)
