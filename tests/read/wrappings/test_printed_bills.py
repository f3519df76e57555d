"""Bills as printed: found exactly, with page and line, or asked; used only once the person has said yes."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hand_typed import Truth, a_year

from reconcile.errors import InputError
from reconcile.read import read_house
from reconcile.read.wrappings.printed_bills import find_printed, table_to_confirm

fpdf = pytest.importorskip("fpdf")
canvas = pytest.importorskip("reportlab.pdfgen.canvas")
pytest.importorskip("pypdf")

TRUTH = a_year(4, 3)


def by_reportlab(path: Path, pages: list[list[str]]) -> Path:
    sheet = canvas.Canvas(str(path))
    for lines in pages:
        for n, line in enumerate(lines):
            sheet.drawString(60, 780 - 16 * n, line)
        sheet.showPage()
    sheet.save()
    return path


def by_fpdf(path: Path, pages: list[list[str]]) -> Path:
    sheet = fpdf.FPDF()
    sheet.set_font("Helvetica", size=10)
    for lines in pages:
        sheet.add_page()
        for line in lines:
            sheet.cell(0, 6, line, new_x="LMARGIN", new_y="NEXT")
    sheet.output(str(path))
    return path


WRITERS = {"reportlab": by_reportlab, "fpdf2": by_fpdf}


def one_bill(t: Truth, before: float = 40_211.0) -> list[list[str]]:
    """A layout of our own: a head, a box of readings, charges in lines, a second page of small print."""
    return [
        [
            "Harrow Vale Electric",
            "Account 0042-17    Statement date: " + f"{t.end:%B} {t.end.day}, {t.end.year}",
            f"Service from {t.start:%m/%d/%Y} to {t.end:%m/%d/%Y}",
            f"Billing days: {t.days}",
            "Meter Q-20418   Actual read",
            f"Previous reading {before:,.0f}",
            f"Current reading {before + t.kwh:,.0f}",
            f"Energy used {t.kwh:,.0f} kWh",
            "First block 100 kWh @ 0.11   11.00",
            "Service charge 12.00",
            f"Current charges ${t.cents / 100:,.2f}",
            "Past due 0.00",
        ],
        ["How to read your bill", "Your meter is read about every 30 days."],
    ]


def table(bills: list[Truth]) -> list[list[str]]:
    rows = [
        f"{t.start:%m/%d/%Y} - {t.end:%m/%d/%Y}   {t.days}   {t.kwh:,.0f} kWh   ${t.cents / 100:,.2f}" for t in bills
    ]
    return [["Your year of bills", "Period   Days   Use   Charges", *rows, "Thank you"]]


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize("library", WRITERS)
def test_one_bill_is_found_exactly_with_its_page_and_lines(library: str, tmp_path: Path) -> None:
    t = TRUTH[0]
    (bill,) = find_printed(WRITERS[library](tmp_path / "march.pdf", one_bill(t)))
    (row,) = rows_of(table_to_confirm([bill]))
    assert (row["start"], row["end"], row["days"]) == (f"{t.start:%m/%d/%Y}", f"{t.end:%m/%d/%Y}", str(t.days))
    assert float(row["kwh"].replace(",", "")) == t.kwh
    assert row["amount"] == f"${t.cents / 100:,.2f}"
    assert (row["reading_start"], row["read_type"], row["confirmed"]) == ("40,211", "Actual", "no")
    kwh = next(found for found in bill.found if found.what == "kwh")
    assert (kwh.page, kwh.line) == (1, 8)


@pytest.mark.parametrize("library", WRITERS)
def test_a_table_of_bills_is_found_row_by_row(library: str, tmp_path: Path) -> None:
    bills = find_printed(WRITERS[library](tmp_path / "year.pdf", table(list(TRUTH))))
    assert [[float(x.replace(",", "")) for x in bill.texts("kwh")] for bill in bills] == [[t.kwh] for t in TRUTH]
    assert [bill.texts("start") for bill in bills] == [(f"{t.start:%m/%d/%Y}",) for t in TRUTH]


@pytest.mark.parametrize("library", WRITERS)
def test_nothing_is_used_before_it_is_confirmed(library: str, tmp_path: Path) -> None:
    write = WRITERS[library]
    found = [b for n, t in enumerate(TRUTH) for b in find_printed(write(tmp_path / f"{n}.pdf", one_bill(t)))]
    text = table_to_confirm(found)
    (tmp_path / "bills.csv").write_text(text)
    with pytest.raises(InputError) as caught:
        read_house(tmp_path / "bills.csv")
    assert {fault.column for fault in caught.value.faults} == {"confirmed"}
    (tmp_path / "bills.csv").write_text(text.replace(",no,", ",yes,"))
    house = read_house(tmp_path / "bills.csv")
    assert [(b.start, b.end, b.kwh) for b in house.bills] == [(t.start, t.end, t.kwh) for t in TRUTH]


def test_two_figures_under_one_name_are_asked(tmp_path: Path) -> None:
    pages = one_bill(TRUTH[0])
    pages[1].append("Total usage 777 kWh")
    (row,) = rows_of(table_to_confirm(find_printed(by_reportlab(tmp_path / "a.pdf", pages))))
    assert row["kwh"] == ""
    assert "kwh is one of" in row["note"]
    assert "777 (page 2 line 3)" in row["note"]


def test_a_printed_bill_itself_is_no_house(tmp_path: Path) -> None:
    path = by_reportlab(tmp_path / "a.pdf", one_bill(TRUTH[0]))
    with pytest.raises(InputError, match="confirmed by you"):
        read_house(path)


@pytest.mark.parametrize("data", [b"", b"%PDF-1.7 torn", b"hello"])
def test_what_is_no_pdf_is_refused(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "a.pdf"
    path.write_bytes(data)
    with pytest.raises(InputError, match=r"no.* PDF that can be read"):
        find_printed(path)


def test_a_picture_of_text_is_refused(tmp_path: Path) -> None:
    sheet = canvas.Canvas(str(tmp_path / "scan.pdf"))
    sheet.rect(10, 10, 100, 100)
    sheet.showPage()
    sheet.save()
    with pytest.raises(InputError, match="pictures of text"):
        find_printed(tmp_path / "scan.pdf")
