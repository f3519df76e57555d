"""Tariffs, register values and charge lines as files give them, right ones and wrong ones."""

from __future__ import annotations

import tomllib
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reconcile import reconcile
from reconcile.errors import InputError
from reconcile.house import Bill, ChargeLine, RegisterReading
from reconcile.house.tariff import Block, Charge, Tariff, Window
from reconcile.paper import examine
from reconcile.read import read_house
from reconcile.read.bills.charge_table import read_charges
from reconcile.read.bills.register_table import read_registers
from reconcile.read.bills.tariff_tables import BLOCK, WINDOW, read_tariffs
from reconcile.read.bills.tariff_tables import CHARGE as CHARGE_KEYS
from reconcile.read.bills.tariff_tables import TARIFF as TARIFF_KEYS
from reconcile.read.tables.cells import Grid
from reconcile.read.tables.gate import Gate
from reconcile.report.views.letter_view import letter
from reconcile.say import Voice
from reconcile.texts.findings import finding_text

D = Decimal


def tariffs(text):
    gate = Gate()
    made = read_tariffs(tomllib.loads(text)["tariff"], gate)
    gate.raise_if_any()
    return made


def faults(text):
    with pytest.raises(InputError) as caught:
        tariffs(text)
    return [str(fault) for fault in caught.value.faults]


def test_every_kind_of_charge():
    made = tariffs(
        """
        [[tariff]]
        valid_from = 2025-01-01
        minimum_per_bill = 9.00
        block_round = 1
        [[tariff.charge]]
        name = "Service"
        per_day = 0.1505
        [[tariff.charge]]
        name = "Energy"
        blocks = [{up_to_per_day = 22.1918, price = 0.0690}, {price = 0.1034}]
        [[tariff.charge]]
        name = "Peak"
        windows = [
            {name = "peak", days = "mon-fri", hours = "16-21", months = "6-9", price = 0.38},
            {name = "rest", price = 0.21},
        ]
        [[tariff.charge]]
        name = "Fuel"
        values = [{from = 2025-01-01, per_kwh = 0.0312}, {from = 2025-02-01, per_kwh = 0.0298}]
        applies = "bill_date"
        [[tariff.charge]]
        name = "Rider"
        percent = 5.0
        on = ["energy", "Fuel"]
        [[tariff.charge]]
        name = "Demand"
        per_kw = 8.10
        months = "11-2"
        round = 3
        [[tariff.charge]]
        name = "Sent out"
        export_credit_per_kwh = 0.06
        [[tariff.charge]]
        name = "Levy"
        per_bill = 1.25
        kind = "levy"
        [[tariff.charge]]
        name = "Sales tax"
        percent = 7.25
        """
    )
    (tariff,) = made
    assert tariff.valid_from == date(2025, 1, 1)
    assert (tariff.minimum_per_bill, tariff.block_places) == (D("9.0"), 1)
    by_name = {c.name: c for c in tariff.charges}
    assert by_name["Service"] == Charge("Service", "per_day", D("0.1505"), kind="fixed")
    assert by_name["Energy"].blocks == (Block(D("0.069"), D("22.1918")), Block(D("0.1034")))
    assert by_name["Energy"].blocks_per == "day"
    assert by_name["Peak"].windows == (
        Window("peak", D("0.38"), frozenset(range(5)), (16.0, 21.0), frozenset({6, 7, 8, 9})),
        Window("rest", D("0.21")),
    )
    assert by_name["Fuel"].values == ((date(2025, 1, 1), D("0.0312")), (date(2025, 2, 1), D("0.0298")))
    assert (by_name["Fuel"].basis, by_name["Fuel"].applies) == ("per_kwh", "bill_date")
    assert (by_name["Rider"].on, by_name["Rider"].kind) == (("energy", "Fuel"), "rider")
    assert (by_name["Demand"].months, by_name["Demand"].places) == (frozenset({11, 12, 1, 2}), 3)
    assert by_name["Sent out"].basis == "export_credit_per_kwh"
    assert by_name["Levy"].kind == "levy"
    assert by_name["Sales tax"].kind == "tax"


def test_the_short_form():
    assert tariffs("[[tariff]]\nfixed_per_bill = 12.50\nenergy = 0.148\ntax_percent = 7.25") == (
        Tariff(
            date.min,
            (
                Charge("Fixed charge", "per_bill", D("12.5"), kind="fixed"),
                Charge("Energy", "per_kwh", D("0.148")),
                Charge("Tax", "percent", D("7.25"), kind="tax"),
            ),
        ),
    )


def test_tariffs_come_in_order_of_their_day():
    made = tariffs(
        "[[tariff]]\nvalid_from = 2025-06-01\nenergy = 0.2\n[[tariff]]\nvalid_from = 2024-06-01\nenergy = 0.1"
    )
    assert [t.valid_from.year for t in made] == [2024, 2025]


def test_two_seasons_of_one_charge():
    made = tariffs(
        """
        [[tariff]]
        [[tariff.charge]]
        name = "Energy"
        per_kwh = 0.2
        months = "6-9"
        [[tariff.charge]]
        name = "Energy"
        per_kwh = 0.1
        months = "10-5"
        """
    )
    assert len(made[0].charges) == 2


def test_hours_across_midnight_and_in_two_spans():
    (tariff,) = tariffs(
        """
        [[tariff]]
        [[tariff.charge]]
        name = "Energy"
        windows = [
            {name = "night", hours = "22:30-6", price = 0.1},
            {name = "peak", hours = "7-11, 17-21", days = "weekdays", price = 0.3},
            {name = "rest", price = 0.2},
        ]
        """
    )
    assert [(w.name, w.hours) for w in tariff.charges[0].windows] == [
        ("night", (22.5, 6.0)),
        ("peak", (7.0, 11.0)),
        ("peak", (17.0, 21.0)),
        ("rest", None),
    ]


CHARGE = '[[tariff]]\nvalid_from = 2025-01-01\n[[tariff.charge]]\nname = "Energy"\n'


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        (CHARGE, "a charge needs exactly one price"),
        (CHARGE + "per_kwh = 0.1\nper_day = 0.2", "this charge has per_day and per_kwh at once"),
        (CHARGE + "per_kwh = 0.1\nprise = 0.2", "the key prise is not known"),
        (CHARGE + 'per_kwh = "ten cents"', "text where a number is wanted"),
        (CHARGE + 'per_kwh = 0.1\non = ["Tax"]', "only a percentage is taken on other lines"),
        (CHARGE + 'percent = 5\non = ["Fuel"]', "no charge above has this name"),
        (CHARGE + "blocks = [{price = 0.1}, {price = 0.2}]", "only the last block has no limit"),
        (CHARGE + "blocks = [{up_to_per_day = 9, price = 0.1}]", "the last block has no limit"),
        (
            CHARGE + "blocks = [{up_to_per_day = 9, price = 1}, {up_to_per_day = 9, price = 2}, {price = 3}]",
            "ends above",
        ),
        (
            CHARGE + "blocks = [{up_to_per_day = 9, price = 1}, {up_to_per_bill = 99, price = 2}, {price = 3}]",
            "not both",
        ),
        (CHARGE + 'windows = [{name = "peak", hours = "16-21", price = 0.3}]', "no window covers 00:00 on mon"),
        (CHARGE + 'windows = [{name = "peak", hours = "16-25", price = 0.3}, {name = "r", price = 1}]', "not hours"),
        (
            CHARGE + 'windows = [{name = "p", days = "mo-fr", price = 0.3}, {name = "r", price = 1}]',
            "not days of the week",
        ),
        (CHARGE + "values = [{from = 2025-01-01}]", "a value needs its day and one price"),
        (CHARGE + "values = [{from = 2025-01-01, per_kwh = 1}, {from = 2025-02-01, per_day = 1}]", "use one of them"),
        (CHARGE + "values = [{from = 2025-01-01, per_kwh = 1}, {from = 2025-01-01, per_kwh = 2}]", "the same day"),
        (CHARGE + 'per_kwh = 1\n[[tariff.charge]]\nname = "energy"\nper_kwh = 2', "two charges have this name"),
        (CHARGE + 'per_kwh = 1\napplies = "sometimes"', "not known here"),
        (CHARGE + 'per_kwh = 1\nmonths = "13"', "month"),
        (CHARGE + "per_kwh = 1\nround = 9", "cannot be above 6"),
        ("[[tariff]]\nvalid_from = 2025-01-01", "no charge"),
        ("[[tariff]]\nenergy = 0.1\nenergi = 0.2", "the key energi is not known"),
        ("[[tariff]]\nenergy = 0.1\n[[tariff]]\nvalid_from = 2025-01-01\nenergy = 0.2", "nothing is written here"),
        (
            "[[tariff]]\nvalid_from = 2025-01-01\nenergy = 0.1\n[[tariff]]\nvalid_from = 2025-01-01\nenergy = 0.2",
            "begin on the same day",
        ),
        (CHARGE.replace("[[tariff.charge]]", "energy = 0.1\n[[tariff.charge]]") + "per_kwh = 1", "or the short form"),
    ],
)
def test_a_wrong_tariff_says_what_and_where(text, problem):
    found = faults(text)
    assert any(problem in fault.replace("Use one", "use one") for fault in found), found
    assert all(fault.startswith("house.toml, tariff[") for fault in found)


def test_all_faults_of_a_tariff_at_once():
    found = faults(CHARGE + "per_kwh = 0.1\nprise = 0.2\nround = 99\n[[tariff.charge]]\nper_day = 1")
    assert len(found) == 3


def table(text):
    rows = [(n, line.split(",")) for n, line in enumerate(text.strip().split("\n"), start=1)]
    gate = Gate()
    return Grid("some.csv", None, rows).table(gate), gate


def test_readings():
    found, gate = table(
        "date,meter,register,value,event,type\n"
        "2025-02-01,A1,,51200,removed,\n"
        "2025-02-01,B2,,3,installed,\n"
        "2025-01-01,A1,Peak,100.5,,customer"
    )
    rows = read_registers(found, gate)
    gate.raise_if_any()
    assert rows == (
        RegisterReading(date(2025, 1, 1), 100.5, "A1", "Peak", "customer", None, 4),
        RegisterReading(date(2025, 2, 1), 51200.0, "A1", "total", "actual", "removed", 2),
        RegisterReading(date(2025, 2, 1), 3.0, "B2", "total", "actual", "installed", 3),
    )


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("date,wert\n2025-01-01,5", "the column value is missing"),
        ("date,value\n2025-01-01,", "nothing is written here"),
        ("date,value\n2025-01-01,-4", "cannot be below 0"),
        ("date,value,event\n2025-01-01,4,swapped", "this word is not known here"),
        ("date,value\n2025-01-01,4\n2025-01-01,5", "another value on the same day in row 2"),
    ],
)
def test_wrong_readings(text, problem):
    found, gate = table(text)
    read_registers(found, gate)
    assert any(problem in str(fault) for fault in gate.faults), gate.faults


def test_charge_lines():
    bills = [Bill(date(2025, 1, 1), date(2025, 2, 1), kwh=900.0)]
    found, gate = table(
        "start,company,part,name,quantity,rate,amount\n"
        "2025-01-01,North,supply,Energy,900,0.08,72.00\n"
        "2025-01-01,Valley,delivery,Wires,,,31.05"
    )
    rows = read_charges(found, gate, bills)
    gate.raise_if_any()
    assert rows == (
        ChargeLine(date(2025, 1, 1), "Energy", D("72.00"), "North", "supply", D(900), D("0.08"), 2),
        ChargeLine(date(2025, 1, 1), "Wires", D("31.05"), "Valley", "delivery", None, None, 3),
    )


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("start,name,amount\n2025-01-02,Energy,5", "no bill starts on this day"),
        ("start,name,amount\n2025-01-01,,5", "nothing is written here"),
        ("start,name,amount,part\n2025-01-01,Energy,5,both", "this word is not known here"),
        ("start,name\n2025-01-01,Energy", "the column amount is missing"),
    ],
)
def test_wrong_charge_lines(text, problem):
    found, gate = table(text)
    read_charges(found, gate, [Bill(date(2025, 1, 1), date(2025, 2, 1), kwh=900.0)])
    assert any(problem in str(fault) for fault in gate.faults), gate.faults


leaves = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 10**20),
    st.floats(),
    st.text(max_size=6),
    st.sampled_from(("mon-fri", "16-21", "6-9", "bill_date", "tax", "2025-01-01", "0.12")),
    st.dates(),
    st.lists(st.integers(-3, 3), max_size=2),
)
keys = st.sampled_from((*CHARGE_KEYS, *TARIFF_KEYS, *BLOCK, *WINDOW, "from", "prise"))
deep = st.recursive(leaves, lambda inner: st.lists(st.dictionaries(keys, inner, max_size=4), max_size=3), max_leaves=12)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.dictionaries(keys, deep, max_size=6), max_size=3))
def test_any_tables_give_a_tariff_or_faults(tables):
    gate = Gate()
    made = read_tariffs(tables, gate)
    for fault in gate.faults:
        assert fault.problem
        assert fault.remedy
    if not gate.faults:
        assert len(made) == len(tables)


FILES = {
    "house.toml": """
        [house]
        name = "Two companies"
        [meter]
        digits = 5
        [[tariff]]
        valid_from = 2024-01-01
        [[tariff.charge]]
        name = "Energy"
        blocks = [{up_to_per_bill = 250, price = 0.064}, {up_to_per_bill = 700, price = 0.049},
                  {up_to_per_bill = 1250, price = 0.0475}, {price = 0.0446}]
        [[tariff.charge]]
        name = "Power cost"
        per_kwh = 0.085
        [[tariff.charge]]
        name = "Base"
        per_bill = 7.50
        [[tariff.charge]]
        name = "Tax"
        percent = 1
    """,
    "bills.csv": """
        start,end,kwh,amount,amount_due,rate_code
        2025-06-01,2025-07-01,2000,277.88,277.88,R1
        2025-07-01,2025-08-01,2000,277.88,315.88,R1
        2025-08-01,2025-09-01,2000,287.88,287.88,R2
    """,
    "charges.csv": """
        start,company,part,name,quantity,rate,amount
        2025-08-01,Valley,delivery,Base,,,17.40
        2025-08-01,North,supply,Power cost,2000,0.085,170.00
        2025-08-01,Valley,delivery,Energy,,,97.63
        2025-08-01,Valley,other,Tax,,,2.85
    """,
    "readings.csv": """
        date,value,type
        2025-06-01,98000,actual
        2025-07-01,0,actual
    """,
    "events.csv": """
        date,kind
        2025-07-12,meter-exchange
    """,
}


def test_a_folder_with_everything(tmp_path):
    for name, text in FILES.items():
        (tmp_path / name).write_text("\n".join(line.strip() for line in text.strip().split("\n")), encoding="utf-8")
    facts = examine(read_house(tmp_path))
    assert [r.ours for r in facts.recomputed] == [D("277.88")] * 3
    assert [(f.code, f.periods) for f in facts.findings] == [
        ("meter-exchange", (1,)),
        ("other-charge", (1,)),
        ("rate-code-change", (2,)),
        ("amount-mismatch", (2,)),
    ]
    assert "Base $17.40 beside ours $7.50" in finding_text(facts.findings[-1], Voice())


LAST = (
    "Date read\tReading\tkWh\tAmount\nJune 3, 2024\t18431\t\t\n"
    "July 3, 2024\t19094\t663\t110.45\nAugust 2, 2024\t19835\t741\t122.15\n"
    "September 3, 2024\t20529\t694\t115.10\nOctober 5, 2024\t21124\t595\t100.25\nNovember 4, 2024\t21751\t627\t105.05\n"
    "December 6, 2024\t22470\t719\t118.85\nJanuary 5, 2025\t23169\t699\t115.85\nFebruary 6, 2025\t23921\t752\t123.80\n"
    "March 8, 2025\t24605\t684\t113.60\n"
)


def typed(tmp_path, more):
    (tmp_path / "bills.txt").write_text(LAST + more, encoding="utf-8")
    return read_house(tmp_path)


def test_a_last_bill_that_one_digit_makes_ordinary_is_read_today_first(tmp_path):
    result = reconcile(typed(tmp_path, "April 7, 2025\t26248\t1643\t257.45\n"))
    first = result.verdict.next_steps[0]
    assert first.code == "read-today"
    assert "26,248" in first.text
    assert "25,248" in first.text
    assert (row := letter(result)["bills"]) == [] or row[-1]["opens"] == "24605"


def test_each_reading_by_date_opens_the_next_bill(tmp_path):
    house = typed(tmp_path, "April 7, 2025\t25248\t643\t107.45\n")
    assert [b.reading_start for b in house.bills[1:]] == [b.reading_end for b in house.bills[:-1]]
    assert not [f for f in examine(house).findings if f.code == "reading-slip"]


@pytest.mark.parametrize("kwh", ["", "-348"])
def test_a_reading_that_falls_is_told_as_the_proof_of_a_misread(tmp_path, kwh):
    more = "April 7, 2025\t26248\t1643\t257.45\nMay 8, 2025\t25900\t{}\t{}\nJune 7, 2025\t26601\t701\t116.15\n"
    with pytest.raises(InputError, match="misread: leave the kWh of this row empty"):
        typed(tmp_path, more.format(-348, "158.40"))  # no bill that gives something back asks for so much
    result = reconcile(typed(tmp_path, more.format(kwh, "0.00")))
    (found,) = [f for f in result.findings if f.code == "reading-slip"]
    assert found.case == "backwards"
    assert "25248 instead of 26248" in result.verdict.headline
