"""Bills noted down on a phone, in a mail, in a page: lines and wrappings that a person reads in one way only."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from reconcile.errors import InputError
from reconcile.read import read_house

ENDS = [date(2024, 10, 8), date(2024, 11, 7), date(2024, 12, 9), date(2025, 1, 8), date(2025, 2, 7), date(2025, 3, 10)]
KWH = [612, 588, 903, 1034, 871, 702]
COST = [101.54, 98.03, 144.11, 163.27, 139.43, 114.70]
BILLS = list(zip(ENDS, KWH, COST, strict=True))


def lines(form: Callable[[date, int, float], str], head: str = "", bills: list[tuple[date, int, float]] = BILLS) -> str:
    return head + "\n".join(form(*bill) for bill in bills) + "\n"


def named(day: date) -> str:
    return f"{day:%b} {day.day}"


OLD, NEW = BILLS[:3], BILLS[3:]
READ = {
    "a mail": ("bills.txt", lines(lambda d, k, c: f"- {named(d)} {d.year} -- {k} kwh -- ${c}", "Hi, as you asked\n\n")),
    "bullets": ("bills.txt", lines(lambda d, k, c: f"* {d.month}/{d.day}/{d:%y}: {k} kWh = ${c}", "Power:\n")),
    "strokes": ("bills.txt", lines(lambda d, k, c: f"{d.month}/{d.day}/{d.year} / {k} kWh / {c}")),
    "years above, columns": (
        "bills.txt",
        lines(lambda d, k, c: f"{named(d)}  {k}  {c}", "read   kwh   amount\n2024\n", OLD)
        + lines(lambda d, k, c: f"{named(d)}  {k}  {c}", "2025\n", NEW),
    ),
    "years above, newest first": (
        "bills.txt",
        lines(lambda d, k, c: f"{named(d)}\t{k} kWh\t${c}", "2025\n", NEW[::-1])
        + lines(lambda d, k, c: f"{named(d)}\t{k} kWh\t${c}", "2024\n", OLD[::-1]),
    ),
    "Dutch parts, of which one is an Italian word for from": (
        "bills.csv",
        lines(lambda d, k, c: f"{d:%d-%m-%Y};{k // 2};{k - k // 2};{c}", "Tot;Dal kWh;Normaal kWh;Totaal €\n"),
    ),
    "arrows": (
        "bills.txt",
        lines(lambda d, k, c: f"{([date(2024, 9, 8), *ENDS])[ENDS.index(d)]} -> {d}: {k} kWh (${c})"),
    ),
    "a header in two rows that clash alone": (
        "bills.csv",
        lines(lambda d, k, c: f"{d},{k},{c}", "Reading,Consumption,Bill\ndate,kWh,total\n"),
    ),
    "watt-hours": ("bills.csv", lines(lambda d, k, c: f"{d},{k * 1000},{c}", "End,Wh,Cost\n")),
    "JSON in JSON": (
        "bills.json",
        json.dumps([{"endDate": str(d), "usage": {"value": k, "unit": "kWh"}, "cost amount": c} for d, k, c in BILLS]),
    ),
    "no unit beside money": ("bills.txt", lines(lambda d, k, c: f"{d:%m/%d/%Y} - {k} - ${c}", "Electric\n")),
    "a page": (
        "bills.html",
        lines(
            lambda d, k, c: f"<tr><td>{d:%m/%d/%Y}</td><td>{k}</td><td>${c}</td></tr>",
            "<table><tr><th>Read date</th><th>kWh</th><th>Charges</th></tr>",
        )
        + "</table>",
    ),
    "JSON": ("bills.json", json.dumps({"bills": [{"date": str(d), "usage": k, "cost": c} for d, k, c in BILLS]})),
    "TOML": ("bills.toml", lines(lambda d, k, c: f"[[bill]]\nend = {d}\nkwh = {k}\namount = {c}\n")),
    "Markdown": (
        "bills.md",
        lines(lambda d, k, c: f"| {d} | **{k}** | ${c} |", "# Bills\n\n| Date | kWh | Cost |\n|:--|--:|--:|\n"),
    ),
    "curly quotes": (
        "bills.csv",
        lines(lambda d, k, c: f"<{d}>,<{k}>,<{c}>", "<Date>,<kWh>,<Cost>\n").translate({60: "\u201c", 62: "\u201d"}),
    ),
    "a column Bill of days": ("bills.csv", lines(lambda d, k, c: f"{named(d)}/{d:%y},{k},{c}", "Bill,kWh,$\n")),
    "pence": ("bills.csv", lines(lambda d, k, c: f"{d:%d/%m/%y},{k},{c * 100:.0f}p", "Date,Units,Charge\n")),
    "cents": ("bills.csv", lines(lambda d, k, c: f"{d},{k},{c * 100:.0f}", "date,kwh,cents\n")),
    "two tariffs in German": (
        "bills.csv",
        lines(
            lambda d, k, c: f"{d:%d.%m.%Y};{k // 3};{k - k // 3};{c:.2f}".replace(".", ",").replace(",", ".", 2),
            "Ablesedatum;HT kWh;NT kWh;Betrag\n",
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize("way", READ)
def test_it_is_read_to_the_last_kwh_and_cent(tmp_path: Path, way: str) -> None:
    file, text = READ[way]
    (tmp_path / file).write_text(text, encoding="utf-8")
    bills = read_house(tmp_path).bills
    assert [(bill.end, bill.kwh) for bill in bills] == [(d, float(k)) for d, k, _ in BILLS]
    assert [bill.amount for bill in bills] == [Decimal(str(c)) for *_, c in BILLS]


def test_a_paragraph_of_months_is_read_by_its_sentences(tmp_path: Path) -> None:
    said = [f"In {d:%B} {d.year} we used {k} kWh and paid ${c}." for d, k, c in BILLS]
    (tmp_path / "bills.txt").write_text(" ".join(said), encoding="utf-8")
    bills = read_house(tmp_path).bills
    assert [(bill.start.month, bill.kwh, bill.amount) for bill in bills] == [
        (d.month, float(k), Decimal(str(c))) for d, k, c in BILLS
    ]


def test_readings_noted_under_a_title_make_bills(tmp_path: Path) -> None:
    text = lines(lambda d, k, c: f"{named(d)}, {d.year}: {40000 + (d - ENDS[0]).days * 20}", "Meter readings\n")
    (tmp_path / "bills.txt").write_text(text, encoding="utf-8")
    bills = read_house(tmp_path).bills
    assert [bill.reading_end for bill in bills] == [40000.0 + (d - ENDS[0]).days * 20 for d in ENDS[1:]]
    assert bills[0].reading_start == 40000.0


@pytest.mark.parametrize("sign", [".", ","])
def test_register_readings_are_never_read_a_thousand_times_too_small(tmp_path: Path, sign: str) -> None:
    shown = [41237 + sum(KWH[:n]) for n in range(len(KWH))]
    rows = [f"{d:%d.%m.%Y};{value:,}".replace(",", sign) for d, value in zip(ENDS, shown, strict=True)]
    (tmp_path / "bills.csv").write_text("\n".join(["Ablesedatum;Zählerstand", *rows]), encoding="utf-8")
    bills = read_house(tmp_path).bills
    assert [bill.reading_end for bill in bills] == [float(value) for value in shown[1:]]


def test_two_registers_are_added_up(tmp_path: Path) -> None:
    shown = [sum(KWH[:n]) for n in range(len(KWH))]
    rows = [f"{d},{1200 + value // 3},{30800 + value - value // 3}" for d, value in zip(ENDS, shown, strict=True)]
    (tmp_path / "bills.csv").write_text("\n".join(["Date,Day reading,Night reading", *rows]), encoding="utf-8")
    bills = read_house(tmp_path).bills
    assert [bill.reading_end for bill in bills] == [32000.0 + value for value in shown[1:]]


def test_figures_without_a_unit_that_could_cost_no_such_money_are_asked_about(tmp_path: Path) -> None:
    (tmp_path / "bills.txt").write_text(lines(lambda d, k, c: f"{d:%m/%d/%Y} - {k} - ${c * 100}"), encoding="utf-8")
    with pytest.raises(InputError, match="tell their days and kWh"):
        read_house(tmp_path)


def test_a_column_of_nothing_but_words_for_a_reading_tells_how_it_was_read(tmp_path: Path) -> None:
    text = lines(lambda d, k, c: f"{d},{k},{'estimated' if d == ENDS[2] else ''}", "end,kwh,\n")
    (tmp_path / "bills.csv").write_text(text, encoding="utf-8")
    assert [bill.read_type for bill in read_house(tmp_path).bills].index("estimated") == 2
