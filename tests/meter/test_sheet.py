"""The field test on paper: one sheet each, cautions before steps, and a workbook that the program reads back."""

from __future__ import annotations

import re
import shutil
import subprocess
import textwrap
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import openpyxl
import pytest

import reconcile
from reconcile import read_house
from reconcile.errors import InputError
from reconcile.house import House, Interval, Load, Meter
from reconcile.house.site import FieldTest, IntervalRun, Leg, MainOff, Registered, Run
from reconcile.kinds import Hazard
from reconcile.meter import judge_test
from reconcile.plan import plan_test
from reconcile.read.on_site.field_names import column_of
from reconcile.read.tables.cells import Grid
from reconcile.report.drawn.drawing import NARROW_INCHES
from reconcile.report.drawn.field_figures import budget_contributions, verdict_zones
from reconcile.report.pages.field_record import judge_text, record_html
from reconcile.report.pages.field_sheet import POINTS, plan_text, sheet_html
from reconcile.report.views.interval_view import run_told
from reconcile.report.workbooks.field_workbook import workbook_bytes
from reconcile.texts.components import spoken_component
from reconcile.texts.field.field_keys import path_of
from reconcile.texts.safety import CAUTIONS, Reader, cautions_for, first_of_all

from .written import GOOD, HOUSE, read, toml


def home(service: str = "split-phase", name: str = "Larkmoor", **more) -> House:
    loads = (Load("Water heater", watts=4500.0), Load("Portable heater", watts=1500.0))
    meter = Meter(form="2S", number="A-77", type="disk", disk_wh=7.2, test_amps=30.0)
    return House(name, (), loads=loads, service=service, meters=(meter,), **more)  # type: ignore[arg-type]


def sheet_workbook(plan, path, for_whom="householder"):
    path.write_bytes(workbook_bytes(plan, for_whom))
    return path


def judged():
    test, _ = read(toml(GOOD))
    return judge_test(House("Larkmoor", (), service="split-phase", meters=HOUSE.meters), test)


def plain(html: str) -> str:
    return " ".join(html.replace("&#39;", "'").replace("&amp;", "&").replace("\N{NO-BREAK SPACE}", " ").split())


def test_the_householders_page_holds_no_step_at_the_legs():
    page = plain(sheet_html(plan_test(home())))
    house = home()
    breakers = cautions_for(Hazard.MAIN_BREAKER, house, moves_main=True)
    for code in (*first_of_all(house), *cautions_for(Hazard.PLUG_IN, house), *breakers):
        assert page.count(CAUTIONS[code].sentence) == 1, code
    assert "leg 1 V" not in page
    assert "electrician: run" not in page
    assert page.index(CAUTIONS["screwed-cover"].sentence) < page.index("Switch one breaker off")
    assert page.index(CAUTIONS["cord"].sentence) < page.index("Load on: wait")


def test_the_qualified_persons_page_stands_alone():
    page = plain(sheet_html(plan_test(home()), "electrician"))
    cautions = cautions_for(Hazard.PANEL, home(), Reader.QUALIFIED)
    for code in cautions:
        assert page.count(CAUTIONS[code].sentence) == 1, code
    assert page.index(CAUTIONS[cautions[-1]].sentence) < page.index("read at one moment")
    assert "For a qualified person only" in page


def test_a_danger_leaves_only_the_call():
    page = plain(sheet_html(plan_test(home(dangers=("shock",)))))
    assert "Stop here" in page
    assert "Load on" not in page


def test_names_cannot_carry_markup():
    page = sheet_html(plan_test(home(name="<script>alert(1)</script>")))
    assert "<script>" not in page


@pytest.mark.parametrize("for_whom", ["householder", "electrician"])
def test_the_unfilled_workbook_reads_as_nothing(tmp_path, for_whom):
    path = sheet_workbook(plan_test(home()), tmp_path / "sheet.xlsx", for_whom=for_whom)
    test, gate = read(sheet_of(path))
    assert gate.faults == []
    assert test == FieldTest()
    assert gate.notices


def sheet_of(path: Path) -> Grid:
    sheet = openpyxl.load_workbook(path)["field test"]
    grid = Grid(path.name, "field test")
    for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        if any(value is not None for value in row):
            grid.rows.append((number, list(row)))
    return grid


def fill(path: Path, filled: dict[str, list[dict[str, object]]], above: dict[str, object]) -> None:
    book = openpyxl.load_workbook(path)
    sheet = book["field test"]
    rows = list(sheet.iter_rows())
    header = next(row for row in rows if row[0].value == "kind")
    for row in rows[: header[0].row - 1]:
        if path_of(str(row[0].value)) in above:
            row[1].value = above[path_of(str(row[0].value))]
    columns = {column_of(str(cell.value)): cell.column for cell in header}
    for row in rows[header[0].row :]:
        waiting = filled.get(str(row[0].value), [])
        if waiting:
            for key, value in waiting.pop(0).items():
                sheet.cell(row[0].row, columns[key], value)
    book.save(path)


@pytest.mark.parametrize("service", ["split-phase", "three-phase"])
@pytest.mark.parametrize("for_whom", ["householder", "electrician"])
def test_nothing_in_the_workbook_is_clipped_in_a_wider_font(tmp_path, service, for_whom):
    path = sheet_workbook(plan_test(home(service, generation=True)), tmp_path / "sheet.xlsx", for_whom=for_whom)
    book = openpyxl.load_workbook(path)
    wider = 1.1  # letters of a font that stands in for the one named, over its own
    for sheet in book:
        widths = {n: d.width for d in sheet.column_dimensions.values() for n in range(d.min, d.max + 1)}
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value is None or str(cell.value).startswith("="):
                    continue
                text, width = str(cell.value), widths[cell.column]
                height = sheet.row_dimensions[cell.row].height or 15.0
                lines = 1
                if cell.alignment.wrap_text:
                    lines = len(textwrap.wrap(text, int(width / wider)))
                    text = max(text.split(), key=len)
                assert wider * len(text) <= width + 1.0, (sheet.title, cell.coordinate, text, width)
                assert 13.0 * lines <= height, (sheet.title, cell.coordinate, cell.value, height)


def test_the_filled_workbook_is_read_back_and_judged(tmp_path):
    house = home()
    path = sheet_workbook(plan_test(house), tmp_path / "sheet.xlsx")
    run = {
        "background_w_before": 150,
        "reference_watts": 1450,
        "turns": 37,
        "seconds": 599.4,
        "background_w_after": 152,
    }
    fill(
        path,
        {"run": [run, run], "quiet": [{"turns": 3, "seconds": 610.2}], "main off": [{"turns": 0, "seconds": 2700}]},
        {"instrument.watts.percent_of_reading": 1.0, "display.step_kw": 0.01},
    )
    test, gate = read(sheet_of(path), house)
    assert gate.faults == []
    assert len(test.runs) == 2
    assert test.instruments.watts is not None
    result = judge_test(house, test)
    assert result.runs[0].repeats == 2
    assert result.main_off[0].zone == "inside"


def test_the_filled_workbook_stands_in_the_houses_folder(tmp_path):
    (tmp_path / "house.toml").write_text('[meter]\ntype = "disk"\ndisk_wh = 7.2\n')
    (tmp_path / "bills.csv").write_text("start,end,kwh\n2025-01-07,2025-02-06,912\n")
    path = sheet_workbook(plan_test(home()), tmp_path / "field-test.xlsx")
    fill(path, {"quiet": [{"turns": 3, "seconds": 610.2}]}, {})
    house = read_house(tmp_path)
    assert house.field_test is not None
    assert house.field_test.quiet[0].registered.turns == 3.0
    (tmp_path / "field_test.toml").write_text("")
    with pytest.raises(InputError, match="Keep one of the two"):
        read_house(tmp_path)


def test_the_legs_of_the_workbook_are_read_back(tmp_path):
    house = home()
    path = sheet_workbook(plan_test(house), tmp_path / "sheet.xlsx", for_whom="electrician")
    leg = {"volts_1": 119.7, "amps_1": 21.76, "volts_2": 119.5, "amps_2": 23.62, "meter_kw": 5.38, "meter_volts": 237}
    fill(path, {"run": [leg]}, {})
    test, gate = read(sheet_of(path), house)
    assert gate.faults == []
    assert test.runs[0].legs == (Leg(119.7, 21.76), Leg(119.5, 23.62))


def test_plan_and_verdict_as_text():
    text = plan_text(plan_test(home(), suspected_percent=20.0), width=80)
    assert all(len(line) <= 80 for line in text.splitlines())
    assert text.index("DANGER") < text.index("- Write the meter's number")
    told = judge_text(judged(), width=80)
    assert "5,427.26 W" in told
    assert "cannot tell" in told


def test_record_holds_facts_budget_and_photographs():
    page = plain(record_html(judged()))
    for words in ("5,427 W", "Divisor", "rectangular", "Monte Carlo", "photograph", "JCGM 100:2008"):
        assert words.casefold() in page.casefold(), words


def test_record_says_who_read_with_what_and_every_reading():
    above = {"record": {"person": "B. Wirer", "license": "E-1"}}
    text = "\n".join(f"[{t}]\n" + "\n".join(f'{k} = "{v}"' for k, v in keys.items()) for t, keys in above.items())
    made = {**GOOD, "instrument": {**GOOD["instrument"], "amps": {**GOOD["instrument"]["amps"], "serial": "0417"}}}
    test, gate = read(text + "\n" + toml(made))
    assert gate.faults == []
    page = plain(record_html(judge_test(House("h", (), service="split-phase", meters=HOUSE.meters), test), test))
    wanted = (
        "read by: B. Wirer; license: E-1",
        "serial number 0417",
        "leg 1: 119.7 V 21.76 A PF 1",
        "flashes 267",
        "house W before 150",
        "plug-in W 1450",
        "left on: Refrigerator",
        "every disconnect off: yes",
    )
    for words in wanted:
        assert words in page, words


def test_record_has_blanks_for_what_was_not_written_and_says_what_a_flash_is_worth():
    run = Run(
        "heater", Registered(pulses=100.0, seconds=173.9), reference_watts=1463.0, background_w_before=256.0,
        background_w_after=256.0, connection="line-to-neutral",
    )  # fmt: skip
    off = MainOff(Registered(pulses=0.0, seconds=900.0), True, True)
    test = FieldTest(runs=(run,), main_off=(off,))
    house = House("h", (), service="split-phase", meters=(Meter(pulse_wh=1.0),), field_test=test)
    page = plain(record_html(judge_test(house), test, house=house))
    for words in (
        "Signature",
        "Account and service address",
        "a flash is 1 Wh, to be compared with Kt on the nameplate",
    ):
        assert words in page, words
    told = page[page.index("Not written down:") :]
    for words in ("who read", "date of each run", "main off", "serial number", "calibration"):
        assert words in told[:220], words
    assert "date not written" in page
    assert "–:" not in page
    assert "Signature" not in record_html(judge_test(house), whole=False)


def test_the_record_shows_the_budget_of_a_run_that_was_kept():
    runs = [
        Run(
            "heater", Registered(pulses=164.0, seconds=seconds, counted="pulse-to-pulse"), reference_watts=1460.0,
            background_w_before=150.0, background_w_after=150.0, connection="line-to-neutral",
        )
        for seconds in (300.0, 301.0, 501.0)
    ]  # fmt: skip
    house = House("h", (), service="split-phase", meters=(Meter(pulse_wh=1.0),), field_test=FieldTest(runs=tuple(runs)))
    page = plain(record_html(judge_test(house), house.field_test, house=house))
    assert "uncertainty comes from: heater</h2>" in page
    assert "from: heater, run 3" not in page
    assert "doubt" not in page  # a record for the utility says uncertainty, as its standards do
    assert "monte carlo" not in page
    budget = page[page.index("uncertainty comes from") : page.index("Combined standard")]
    assert ">-" not in budget  # the minus of a budget is that of every other figure


def test_the_bars_of_a_budget_name_their_components_on_a_phone():
    run = judged().runs[0]
    ax = budget_contributions(run, width=NARROW_INCHES)
    texts = [text.get_text() for text in ax.texts]
    assert spoken_component(max(run.budget, key=lambda c: c.share).name) in texts
    assert "0 %" not in texts


def test_notebook_cells_keep_their_style_to_themselves():
    for cell in (plan_test(home())._repr_html_(), judged()._repr_html_()):
        assert "<body" not in cell
        style = cell[cell.index("<style>") : cell.index("</style>")]
        rules = [line for line in style.splitlines() if line.startswith(("h1", "p ", "table", "body", "td"))]
        assert rules == []


def test_record_says_a_danger_first():
    run = Run("legs", Registered(meter_kw=4.8), (Leg(108.0, 20.0), Leg(132.0, 20.0)))
    result = judge_test(House("h", (), service="split-phase", field_test=FieldTest(runs=(run,))))
    page = plain(record_html(result))
    assert page.index("sign of danger") < page.index("Record of a field test: h</h1>")


def test_record_of_a_main_off_alone():
    reading = MainOff(Registered(pulses=40.0, seconds=900.0), True, True)
    house = House("h", (), meters=(Meter(pulse_wh=1.0),), field_test=FieldTest(main_off=(reading,)))
    assert "160 W counted" in plain(record_html(judge_test(house)))


def test_figures_say_what_they_show():
    result = judged()
    assert "clamp" in budget_contributions(result.runs[0]).get_label()
    ax = verdict_zones(result)
    assert "cannot tell" in ax.get_label()
    assert ax.get_xlim()[0] < 98.0 < 102.0 < ax.get_xlim()[1]


@pytest.mark.parametrize("for_whom", ["householder", "electrician"])
def test_boxes_are_large_enough_for_a_gloved_hand(for_whom):
    page = sheet_html(plan_test(home()), for_whom)
    for rule in (r"\ntd \{[^}]*", r"\n\.box \{[^}]*", r"\n\.yes span \{[^}]*"):
        found = re.search(rule, page)
        assert found is not None
        assert float(re.search(r"height: ([\d.]+)mm", found[0])[1]) >= 9.0  # type: ignore[index]


@pytest.mark.parametrize("service", ["split-phase", "network", "two-wire", "three-phase"])
def test_the_electricians_record_is_complete(service):
    page = plain(sheet_html(plan_test(home(service)), "electrician"))
    legs = {"two-wire": 1, "three-phase": 3}.get(service, 2)
    for n in (1, 2, 3):
        for quantity in (f"leg {n} V", f"leg {n} A", f"V{n} x A{n}"):
            assert (f"<th>{quantity}</th>" in page) == (n <= legs)
    rows = re.findall(r'<tr><th scope="row">([^<]+)</th>', page)
    assert rows == ["before", "full 1", "full 2", "full 3", "light 1", "light 2", "light 3", "after", "main off"]
    for words in (
        "Person",
        "License",
        "serial no.",
        "calibrated",
        "CAT, volts",
        "Date",
        "From",
        "To",
        "Signature",
        "PF",
    ):
        assert words in page, words
    assert "True W = V" in page
    assert page.count('class="result"') >= 2 * len(rows)


def test_the_householders_record_is_complete():
    page = plain(sheet_html(plan_test(home())))
    rows = re.findall(r'<tr><th scope="row">([^<]+)</th>', page)
    assert rows == ["2 quiet", "3 run 1", "3 run 2", "3 run 3", "5 main off"]
    for words in ("Read by", "Date", "From", "To", "Signature", "serial no.", "every disconnect off", "underground"):
        assert words in page, words
    assert "Meter W = 25,920 x turns / seconds" in page
    assert "call that one 0" in page


CHROMIUM = shutil.which("chromium")


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="no headless browser here")
@pytest.mark.parametrize(
    ("service", "for_whom"),
    [("split-phase", "householder"), ("network", "electrician"), ("three-phase", "electrician")],
)
@pytest.mark.parametrize("size", ["letter", "A4"])
@pytest.mark.parametrize("long_names", [False, True])
def test_each_page_prints_on_one_sheet(tmp_path, service, for_whom, size, long_names):
    page, out = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    house = home(service, generation=True)
    if long_names:
        loads = tuple(
            replace(load, name=f"{load.name} with a name as long as anybody may give it") for load in house.loads
        )
        house = replace(house, loads=loads, name="The house with the long name at the end of the lane by the mill")
    html = sheet_html(plan_test(house, suspected_percent=20.0), for_whom)
    page.write_text(html.replace("@page {", f"@page {{ size: {size};"))
    subprocess.run(
        [
            str(CHROMIUM),
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            f"--user-data-dir={tmp_path / 'profile'}",
            "--no-pdf-header-footer",
            f"--print-to-pdf={out}",
            page.as_uri(),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    assert out.read_bytes().count(b"/Type /Page\n") == 2  # two sides: the steps, and what is filled in


def test_an_empty_background_gives_no_registration(tmp_path):
    """150 flashes in 300 s beside 1,460 W read 123 % of nothing known: the house's own watts were not written."""
    book = openpyxl.load_workbook(sheet_workbook(plan_test(home()), tmp_path / "t.xlsx"))
    formulas = [row[4].value for row in book["results"].iter_rows(min_row=2) if row[4].value]
    assert len(formulas) == 4
    for formula in formulas:
        assert re.search(r"AND\(.*COUNT\('field test'!\w+,'field test'!\w+\)>0\)", formula), formula


def test_the_results_are_worked_out_from_flashes_where_only_those_are_written(tmp_path):
    """137 flashes of 1.25 Wh in 300 s are 2,055 W, whether the house's file knows the watt-hours of one or not."""
    for meters, written, watts in (
        ((Meter(),), 1.25, 2055.0), ((Meter(),), "1.25", 2055.0), ((Meter(),), "", ""),
        ((Meter(pulse_wh=1.0),), "", 1644.0), ((Meter(pulse_wh=1.0),), 1.25, 2055.0),
    ):  # fmt: skip
        name = tmp_path / f"{len(list(tmp_path.iterdir()))}.xlsx"
        book = openpyxl.load_workbook(sheet_workbook(plan_test(replace(home(), meters=meters)), name))
        above = next(row[0].row for row in book["field test"].iter_rows() if "Wh a flash" in str(row[0].value))
        run = next(row for row in book["results"].iter_rows(min_row=2) if row[4].value)
        top = next(row for row in book["field test"].iter_rows() if row[0].value == "kind")
        place = {str(cell.value): f"{cell.column_letter}{run[0].value}" for cell in top}
        cells = {place["flashes"]: 137, place["seconds"]: 300, f"B{above}": written}
        assert worked_out(run[3].value, cells) == watts, run[3].value


def worked_out(formula: str, cells: dict[str, object]) -> object:
    """Work out a formula of the sheet ``results``."""
    told = re.sub(r"'field test'!\$?([A-Z]+)\$?(\d+)", lambda at: f"cell('{at[1]}{at[2]}')", formula[1:])
    told = re.sub(r"\bIF\(", "choose(", told.replace('=""', '==""')).replace("AND(", "both(")
    number = int | float
    known = {
        "cell": lambda at: cells.get(at, ""),
        "choose": lambda this, one, other: one if this else other,
        "both": lambda *these: all(these),
        "N": lambda value: value if isinstance(value, number) else 0,
        "COUNT": lambda value: int(isinstance(value, number)),
        "VALUE": lambda value: float(value or 0),
        "IFERROR": lambda value, other: value,
    }
    told = re.sub(r"1000\*(cell\('\w+'\))", r"N(\1)", told)  # the display, of which nothing was written
    return eval(told, {}, known)


TEMPLATES = Path(reconcile.__file__).parent / "report" / "templates"


@pytest.mark.parametrize("name", [*sorted(path.name for path in TEMPLATES.glob("*.*ml")), "style.css"])
def test_no_print_is_smaller_than_nine_points(name):
    sizes = re.findall(r"font(?:-size)?: (\d+(?:\.\d+)?)pt", (TEMPLATES / name).read_text(encoding="utf-8"))
    assert all(float(size) >= 9.0 for size in (*sizes, POINTS))


def test_a_run_in_the_interval_data_has_rows_of_the_workbook_where_there_are_data(tmp_path):
    house = home(interval=Interval(np.array(["2025-11-01"], "datetime64[s]"), np.array([0.5]), 3600))
    path = sheet_workbook(plan_test(house), tmp_path / "field.xlsx")
    entered = {"date": date(2025, 11, 3), "from_hour": 1.0, "hours": 1.0, "kwh": 1.483}
    fill(path, {"interval run": [dict(entered)]}, {})
    test, gate = read(sheet_of(path), house)
    assert gate.faults == []
    assert test.interval_runs == (IntervalRun(date(2025, 11, 3), 1.0, 1.0, 1.483),)
    without = openpyxl.load_workbook(sheet_workbook(plan_test(home()), tmp_path / "none.xlsx"))["field test"]
    assert "interval run" not in {row[0].value for row in without.iter_rows()}


def test_a_run_by_night_stands_on_the_sheet_and_in_the_record_where_the_data_would_read_it(tmp_path):
    starts = np.arange("2025-07-01", "2025-11-01", np.timedelta64(1, "h"), dtype="datetime64[s]")
    kwh = np.round(0.3 + 0.02 * np.random.default_rng(3).standard_normal(len(starts)), 3)
    house = home(interval=Interval(starts, kwh, 3600))
    planned = plan_test(house)
    run = planned.night_run
    page = plain(sheet_html(planned))
    assert f"from {run.from_hour:.0f}:30 for {run.on_hours:.0f} hours" in planned.by_night
    for words in (planned.by_night, "<th>from hour</th>", "<th>heater kWh</th>"):
        assert words in page
    assert planned.by_night in " ".join(plan_text(planned).split())
    assert "nobody at the meter" not in sheet_html(plan_test(home()))
    book = openpyxl.load_workbook(sheet_workbook(planned, tmp_path / "night.xlsx"))
    head, *rows = [
        [c.value for c in row] for row in book["field test"].iter_rows() if row[0].value in ("kind", "interval run")
    ]
    hours = [(row[head.index("from hour")], row[head.index("hours")]) for row in rows]
    assert hours == [(f"{run.from_hour:g}", f"{run.on_hours:g}")] * run.nights
    assert any("by night" in str(row[1].value) for row in book["results"].iter_rows())
    assert read(sheet_of(tmp_path / "night.xlsx"), house)[0] == FieldTest()
    on = [IntervalRun(date(2025, 9, day), hour, 2.0, 3.0) for day in (8, 9, 10) for hour in (1.5, 5.5)]
    made = replace(house, field_test=FieldTest(interval_runs=tuple(on)))
    told = run_told(made)
    assert "12 hours on 3 nights" in told
    record = plain(record_html(judge_test(made), made.field_test, house=made))
    assert f'<p class="answer">{told}</p>' in record
    assert "from hour 1.5; hours 2; heater kWh 3" in record
