"""The sheet to fill in as a workbook; :mod:`reconcile.read.on_site.site_readings_table` reads it back."""

from __future__ import annotations

import io
import textwrap
from typing import TYPE_CHECKING, Any, Literal

from reconcile.meter.resolve import planning_meter
from reconcile.report.pages.field_sheet import COVERS_ON_FIRST, Section, sections
from reconcile.report.words import clean
from reconcile.texts.field.field_keys import PLACES, TABLES, words_of
from reconcile.texts.safety import Reader

if TYPE_CHECKING:
    from reconcile.plan.field_plan import Plan

For = Literal["householder", "electrician"]
FONT = {"font_name": "Arial", "font_size": 10}
"""A font, or one of its widths, is everywhere; the widths below leave room for a wider one."""
LINE_POINTS, LETTERS_A_LINE = 14.0, 70
"""Height of a line and letters in one on the sheet ``read me``, for the widest font that may stand in."""
LEAFLET = ("name", "serial", "calibrated", "kind", "percent_of_reading", "digits", "resolution")
ABOVE: dict[str, tuple[tuple[str, str], ...]] = {
    "householder": (
        *(("record", key) for key in ("person", "started", "ended")),
        *(("instrument.watts", key) for key in (*LEAFLET, "resolution_kwh")),
        ("instrument.time", "seconds"),
        ("display", "step_kw"),
        ("display", "count_wh"),
    ),
    "electrician": (
        *(("record", key) for key in ("person", "license", "employer", "started", "ended")),
        *(("instrument.volts", key) for key in (*LEAFLET, "category")),
        *(("instrument.amps", key) for key in (*LEAFLET, "min_amps", "category")),
        ("instrument.time", "seconds"),
        ("display", "step_kw"),
        ("display", "step_volts"),
        ("display", "count_wh"),
    ),
}
"""Keys that stand above the runs."""
REPEATS, BRANCHES, TIMES_ON = 3, 6, 15
"""Rows for repeats of a run, for breakers, and for each time that a heater was on in the interval data."""
BY_NIGHT_TOGETHER = "runs by night, the heater's kWh together; what the meter registered of them: reconcile judge"
IN_DATA = ("from_hour", "hours", "kwh")
YES_NO = ("all_disconnects_off", "generation_off", "service_underground")
CHOICES = {
    "connection": ("line-to-line", "line-to-neutral"),
    "load": ("full", "light", "other"),
    **dict.fromkeys((*YES_NO, "unplugged"), ("yes", "no")),
}
WIDTHS = {
    "label": 26, "date": 12, "connection": 16, "counted": 16, "on": 20, "circuit": 16, "note": 26,
    **dict.fromkeys(YES_NO, 15),
}  # fmt: skip
"""Widths of columns [letters]; the first holds the names of the keys above the runs, all others are narrow."""
FIRST_WIDTH, NARROW = 40, 10


def workbook_bytes(plan: Plan, for_whom: For = "householder") -> bytes:
    """Return the fill-in workbook: cautions and steps on the first sheet, the form on the second."""
    import xlsxwriter

    page = io.BytesIO()
    with xlsxwriter.Workbook(page, {"in_memory": True}) as book:
        book.formats[0].set_font_name(FONT["font_name"])
        book.formats[0].set_font_size(FONT["font_size"])
        _read_me(book, plan, for_whom)
        if not plan.urgent:
            _form(book, plan, for_whom)
            _results(book, plan, for_whom)
    return page.getvalue()


def _read_me(book: Any, plan: Plan, for_whom: For) -> None:
    sheet = book.add_worksheet("read me")
    formats = {
        True: book.add_format({**FONT, "bold": True, "text_wrap": True, "valign": "top"}),
        False: book.add_format({**FONT, "text_wrap": True, "valign": "top"}),
    }
    sheet.set_column(0, 0, 78)
    sheet.set_portrait()
    sheet.set_margins(left=0.5, right=0.5)
    sheet.fit_to_pages(1, 0)
    for row, (text, heading) in enumerate(_lines(plan, for_whom)):
        text = str(clean(text))
        sheet.set_row(row, LINE_POINTS * max(1, len(textwrap.wrap(text, LETTERS_A_LINE))) + 2.0)
        sheet.write_string(row, 0, text, formats[heading])


def _lines(plan: Plan, for_whom: For) -> list[tuple[str, bool]]:
    lines = [(f"Field test for {plan.house.name}", True), (plan.headline, False)]
    if plan.urgent:
        return lines + [(line, False) for line in plan.stop]
    reader = Reader.QUALIFIED if for_whom == "electrician" else Reader.HOUSEHOLDER
    head, *steps = sections(plan, reader)
    qualified = reader is Reader.QUALIFIED
    lines += [(f"DANGER: {text}", False) for text in plan.warnings if qualified]
    lines += [(caution.text, False) for caution in head.cautions]
    lines += [(text, False) for text in (*((COVERS_ON_FIRST,) if qualified else ()), *plan.notes)]
    for place, step in enumerate((step for step in steps if step.code != "utility"), start=1):
        lines += _step(place, step)
    lines.append(("Fill in the sheet 'field test'. Rows that stay as they are count for nothing.", True))
    return lines


def _step(place: int, step: Section) -> list[tuple[str, bool]]:
    assert step.words is not None
    return [
        (f"{place}. {step.words.title}", True),
        *((caution.text, False) for caution in step.cautions),
        *((text, False) for text in (*step.words.do, *step.words.expect, *step.words.proves)),
    ]


def _form(book: Any, plan: Plan, for_whom: For) -> None:
    sheet = book.add_worksheet("field test")
    sheet.set_landscape()
    sheet.set_margins(left=0.4, right=0.4, top=0.5, bottom=0.5)
    sheet.fit_to_pages(1, 1)
    head = book.add_format({**FONT, "bold": True, "bottom": 1, "text_wrap": True, "valign": "bottom"})
    box = book.add_format({**FONT, "border": 1, "text_wrap": True, "valign": "vcenter"})
    day = book.add_format({**FONT, "border": 1, "num_format": "yyyy-mm-dd", "valign": "vcenter"})
    never = book.add_format({**FONT, "border": 1, "bg_color": "#D9D9D9"})
    for row, (table, name) in enumerate(ABOVE[for_whom]):
        sheet.write_string(row, 0, f"{PLACES[table]}: {words_of(table, name)}")
        sheet.write_blank(row, 1, None, day if name == "calibrated" else box)
        sheet.write_comment(row, 1, next(key.meaning for key in TABLES[table] if key.name == name))
        if name == "kind":
            sheet.data_validation(row, 1, row, 1, {"validate": "list", "source": list(_classes(table))})
    top = len(ABOVE[for_whom]) + 1
    columns = columns_of(plan, for_whom)
    sheet.set_row(top, 3 * LINE_POINTS)
    for column, name in enumerate(columns):
        sheet.set_column(column, column, FIRST_WIDTH if column == 0 else WIDTHS.get(name, NARROW))
        sheet.write_string(top, column, header(name), head)
    sheet.freeze_panes(top + 1, 2)
    rows = prepared_rows(plan, for_whom)
    for offset, filled in enumerate(rows, start=1):
        row = top + offset
        sheet.set_row(row, 2 * LINE_POINTS)
        for column, name in enumerate(columns):
            if name in filled:
                sheet.write_string(row, column, filled[name], box)
            elif not belongs(filled["kind"], name):
                sheet.write_blank(row, column, None, never)
            else:
                sheet.write_blank(row, column, None, day if name == "date" else box)
    for column, name in enumerate(columns):
        if name in CHOICES:
            sheet.data_validation(
                top + 1, column, top + len(rows), column, {"validate": "list", "source": list(CHOICES[name])}
            )


def belongs(kind: str, column: str) -> bool:
    """Return whether a row of a kind has a value in a column; the others are grey.

    Examples
    --------
    >>> belongs("run", "amps_1"), belongs("main off", "amps_1"), belongs("quiet", "on")
    (True, False, True)
    """
    table = kind.replace(" ", "_")
    own = {key.name for key in TABLES[table]} | {"kind"}
    return column in own or (table == "run" and column.rpartition("_")[2].isdigit())


def _classes(table: str) -> tuple[str, ...]:
    from reconcile.meter.instruments import typical

    return tuple(name for name, row in typical().items() if row.measures == table.rpartition(".")[2])


def header(column: str) -> str:
    """Return the words at the head of a column.

    Examples
    --------
    >>> header("amps_2"), header("background_w_before"), header("on")
    ('leg 2 A', 'house W before', 'left on')
    """
    if column == "kind":
        return column
    name, _, number = column.rpartition("_")
    if number.isdigit():
        return f"leg {number} {words_of('run.legs', name)}"
    table = next(
        t
        for t in ("run", "quiet", "main_off", "interval_run", "branch")
        if any(key.name == column for key in TABLES[t])
    )
    return words_of(table, column)


def columns_of(plan: Plan, for_whom: For) -> tuple[str, ...]:
    """Return the form's columns."""
    count = "turns" if plan.meter.type == "disk" else "pulses"
    shown = (count, "seconds", "meter_kw")
    after = (*YES_NO, "connection", "counted", "note")
    if for_whom == "householder":
        return (
            "kind", "label", "date", "background_w_before", "outlet_volts_off", *shown, "reference_watts",
            "outlet_volts_on", "background_w_after", "time_start", "register_start", "time_end", "register_end",
            "on", "circuit", "fell_watts", "unplugged", *(IN_DATA if plan.house.interval is not None else ()), *after,
        )  # fmt: skip
    legs = {"two-wire": 1, "three-phase": 3}.get(plan.house.service, 2)
    each = (f"{key}_{n}" for n in range(1, legs + 1) for key in ("volts", "amps", "power_factor"))
    return ("kind", "label", "date", "load", *each, "meter_volts", *shown, "on", *after)


def prepared_rows(plan: Plan, for_whom: For) -> list[dict[str, str]]:
    """Return the form's rows with what is known beforehand."""
    counted = {"counted": "pulse-to-pulse"}
    if for_whom == "electrician":
        name = plan.panel_load.name if plan.panel_load is not None else "large load"
        wired = {
            "split-phase": {"connection": "line-to-line"},
            "network": {"connection": "line-to-line"},
            "two-wire": {"connection": "line-to-neutral"},
        }.get(plan.house.service, {})
        runs = [
            {"kind": "run", "label": f"{label}, {load} load", "load": load, **wired, **counted}
            for label, load in ((name, "full"), ("another, small and steady", "light"))
            for _ in range(REPEATS)
        ]
        before, after = (
            {"kind": "quiet", "note": f"{when} the runs, load off", **counted} for when in ("before", "after")
        )
        return [before, *runs, after, {"kind": "main off"}]
    name = plan.reference.name if plan.reference is not None else "heater"
    run = {"kind": "run", "label": f"{name}, off-on-off", "connection": "line-to-neutral", **counted}
    by_kwh = {"kind": "run", "label": f"{name}, by the meter's kWh", "connection": "line-to-neutral"}
    evening = {"kind": "quiet", "note": "late evening to morning"}
    codes = {step.code for step in plan.steps}
    branches = [{"kind": "branch"}] * (BRANCHES if "branches" in codes else 0)
    main_off = [{"kind": "main off"}] if "main-off" in codes else []
    return [evening, *([run] * REPEATS), by_kwh, *branches, *main_off, *_times_on(plan)]


def _times_on(plan: Plan) -> list[dict[str, str]]:
    """Return the rows of a run in the interval data, with the hours of the nights planned."""
    if plan.house.interval is None:
        return []
    run = plan.night_run
    if run is None:
        return [{"kind": "interval run"}] * TIMES_ON
    return [
        {
            "kind": "interval run",
            "from_hour": f"{run.from_hour:g}",
            "hours": f"{run.on_hours:g}",
            "note": f"night {night + 1}",
        }
        for night in range(run.nights)
    ]


def _results(book: Any, plan: Plan, for_whom: For) -> None:
    """Write what each row comes to, worked out in the workbook; the program works it out anew, with its doubt."""
    sheet = book.add_worksheet("results")
    sheet.set_portrait()
    sheet.fit_to_pages(1, 0)
    head = book.add_format({**FONT, "bold": True, "bottom": 1, "text_wrap": True, "valign": "bottom"})
    text = book.add_format({**FONT, "border": 1, "text_wrap": True, "valign": "vcenter"})
    result = book.add_format({**FONT, "border": 2, "num_format": "#,##0.0", "valign": "vcenter"})
    wires = "" if for_whom == "electrician" else ", without wires"
    titles = ("row", "run", "true W", "meter W", f"registration %{wires}")
    sheet.set_column(0, 0, 10)
    sheet.set_column(1, 1, 40)
    sheet.set_column(2, 4, 18)
    sheet.set_row(0, 3 * LINE_POINTS)
    for column, title in enumerate(titles):
        sheet.write_string(0, column, title, head)
    first = len(ABOVE[for_whom]) + 3
    size = f"'field test'!$B${ABOVE[for_whom].index(('display', 'count_wh')) + 1}"
    formulas = _Formulas(plan, columns_of(plan, for_whom), size)
    rows = prepared_rows(plan, for_whom)
    counted = [filled for filled in rows if filled["kind"] != "interval run"]
    if nights := len(rows) - len(counted):
        here, begin = len(counted) + 1, first + len(counted)
        sheet.set_row(here, 3 * LINE_POINTS)
        sheet.write_string(here, 0, f"{begin} to {begin + nights - 1}", text)
        sheet.write_string(here, 1, BY_NIGHT_TOGETHER, text)
        kwh = book.add_format({**FONT, "border": 2, "num_format": '#,##0.000 "kWh"', "valign": "vcenter"})
        every = f"{formulas.at('kwh', begin)}:{formulas.at('kwh', begin + nights - 1).split('!')[1]}"
        sheet.write_formula(here, 2, f'=IF(COUNT({every})=0,"",SUM({every}))', kwh, "")
    for place, filled in enumerate(counted):
        row, here = first + place, place + 1
        sheet.set_row(here, 2 * LINE_POINTS)
        sheet.write_number(here, 0, row, text)
        sheet.write_string(here, 1, filled.get("label", filled["kind"]), text)
        sheet.write_formula(here, 3, formulas.meter_watts(row), result, "")
        if filled["kind"] == "run":
            sheet.write_formula(here, 2, formulas.true_watts(row), result, "")
            sheet.write_formula(here, 4, formulas.registration(row, here + 1), result, "")


class _Formulas:
    """Formulas of the sheet ``results`` in the cells of the sheet ``field test``."""

    def __init__(self, plan: Plan, columns: tuple[str, ...], size: str) -> None:
        self.plan, self.columns, self.size = plan, columns, size

    def at(self, column: str, row: int) -> str:
        from xlsxwriter.utility import xl_col_to_name

        return f"'field test'!{xl_col_to_name(self.columns.index(column))}{row}"

    def meter_watts(self, row: int) -> str:
        meter = planning_meter(self.plan.house)
        disk = meter.type == "disk"
        known = (self.plan.meter.disk_wh if disk else self.plan.meter.pulse_wh) or 0.0
        # what is written above the runs, as a number or as text; else what the house's file says of one count
        size = f'IF({self.size}="",{known:.10g},IFERROR(VALUE({self.size}),{known:.10g}))'
        kw, seconds, count = (self.at(c, row) for c in ("meter_kw", "seconds", "turns" if disk else "pulses"))
        by_display = f'IF({kw}="","",{1000.0 * meter.multiplier:.10g}*{kw})'
        by_count = f"{3600.0 * meter.multiplier:.10g}*{size}*{count}/{seconds}"
        counted = f"AND(N({seconds})>0,COUNT({count})>0,{size}>0)"
        return f"=IF({counted},{by_count},{by_display})"

    def true_watts(self, row: int) -> str:
        if "amps_1" not in self.columns:
            plug = self.at("reference_watts", row)
            return f'=IF({plug}="","",{plug})'
        legs = [n for n in (1, 2, 3) if f"amps_{n}" in self.columns]
        each = "+".join(
            f"{self.at(f'volts_{n}', row)}*{self.at(f'amps_{n}', row)}*{_or_one(self.at(f'power_factor_{n}', row))}"
            for n in legs
        )
        wired = self.at("connection", row)
        wye = f'*IF({wired}="line-to-line",SQRT(3)/2,1)' if self.plan.house.service == "network" else ""
        return f'=IF(COUNT({self.at("amps_1", row)})=0,"",({each}){wye})'

    def registration(self, row: int, here: int) -> str:
        known = f"N(C{here})>0,N(D{here})>0"
        house = "0"
        if "background_w_before" in self.columns:  # nothing written is not nothing drawn
            before, after = self.at("background_w_before", row), self.at("background_w_after", row)
            known += f",COUNT({before},{after})>0"
            house = f"AVERAGE({before},{after})"
        return f'=IF(AND({known}),100*(D{here}-{house})/C{here},"")'


def _or_one(cell: str) -> str:
    return f'IF({cell}="",1,{cell})'
