"""The fill-in sheet as a workbook; :mod:`reconcile.read.site_readings_table` reads it back."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reconcile.errors import OutputError
from reconcile.report.save import write_whole

if TYPE_CHECKING:
    from reconcile.plan.field_plan import Plan

INSTRUMENT_ROWS = (
    ("instrument.watts.percent_of_reading", "plug-in meter: percent of reading, from its leaflet"),
    ("instrument.watts.digits", "and digits"),
    ("instrument.watts.resolution", "W of one digit"),
    ("instrument.watts.resolution_kwh", "kWh of its last digit"),
    ("instrument.time.seconds", "how well a watch is stopped, s (0.3 where empty)"),
    ("display.step_kw", "last digit of the meter's kW, if it shows kW"),
)
QUALIFIED_ROWS = (
    ("instrument.volts.percent_of_reading", "voltmeter"),
    ("instrument.volts.digits", "and digits"),
    ("instrument.volts.resolution", "V of one digit"),
    ("instrument.volts.category", "such as CAT III 600 V"),
    ("instrument.amps.percent_of_reading", "clamp"),
    ("instrument.amps.digits", "and digits"),
    ("instrument.amps.resolution", "A of one digit"),
    ("instrument.amps.min_amps", "lowest current it is specified for, A"),
    ("instrument.amps.category", "such as CAT III 600 V"),
    ("display.step_volts", "last digit of the meter's volts"),
)
HOUSEHOLDER_COLUMNS = (
    "kind",
    "label",
    "date",
    "background_w_before",
    "reference_watts",
    "reference_kwh",
    "outlet_volts_off",
    "outlet_volts_on",
    "meter_kw",
    "pulses",
    "turns",
    "seconds",
    "register_start",
    "register_end",
    "background_w_after",
    "connection",
    "on",
    "all_disconnects_off",
    "generation_off",
    "service_underground",
    "note",
)
LEG_COLUMNS = ("service", "meter_volts", "volts_1", "amps_1", "power_factor_1", "volts_2", "amps_2", "power_factor_2")
THIRD_LEG = ("volts_3", "amps_3", "power_factor_3")
REPEATS = 3


def sheet_workbook(plan: Plan, path: str | Path, *, for_whom: str = "householder") -> Path:
    """Write the fill-in workbook: a sheet ``field test`` that the program reads back, and ``read me`` before it.

    Parameters
    ----------
    plan : Plan
    path : path
        Never overwritten: it may already hold readings.
    for_whom : {'householder', 'qualified'}
        Columns for the legs are there for the qualified person only.

    Returns
    -------
    Path

    Raises
    ------
    OutputError
        Where it cannot be written, or is already there.
    """
    target = Path(path)
    if target.exists() or target.is_symlink():
        raise OutputError(f"{target} is already there and may hold readings. Name another file")
    write_whole({target: workbook_bytes(plan, qualified=for_whom == "qualified")})
    return target


def workbook_bytes(plan: Plan, *, qualified: bool = False) -> bytes:
    """Return the fill-in workbook: cautions on the first sheet, the form on the second."""
    import xlsxwriter

    page = io.BytesIO()
    with xlsxwriter.Workbook(page, {"in_memory": True}) as book:
        _read_me(book, plan, qualified)
        if not plan.urgent:
            _form(book, plan, qualified)
    return page.getvalue()


def _read_me(book: Any, plan: Plan, qualified: bool) -> None:
    sheet = book.add_worksheet("read me")
    bold = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
    wrap = book.add_format({"text_wrap": True, "valign": "top"})
    sheet.set_column(0, 0, 100)
    sheet.set_portrait()
    sheet.fit_to_pages(1, 0)
    for row, (text, heading) in enumerate(_lines(plan, qualified)):
        sheet.write_string(row, 0, text, bold if heading else wrap)


def _lines(plan: Plan, qualified: bool) -> list[tuple[str, bool]]:
    lines = [(f"Field test for {plan.house}", True), (plan.headline, False)]
    lines += [(f"Caution: {caution}", False) for caution in plan.cautions]
    for step in plan.steps:
        if (step.who == "a qualified person") != qualified:
            continue
        lines.append((f"{step.title} ({step.who})", True))
        lines += [(f"Caution: {caution}", False) for caution in step.cautions]
        lines += [(text, False) for text in (*step.do, *step.expect, *step.proves)]
    lines.append(("Fill in the sheet 'field test'. Rows that stay as they are count for nothing.", True))
    return lines


def _form(book: Any, plan: Plan, qualified: bool) -> None:
    sheet = book.add_worksheet("field test")
    sheet.set_landscape()
    sheet.fit_to_pages(1, 1)
    head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
    box = book.add_format({"border": 1})
    top = [*INSTRUMENT_ROWS, *(QUALIFIED_ROWS if qualified else ())]
    sheet.set_column(0, 0, 34)
    sheet.set_column(1, 1, 30)
    sheet.set_column(2, 40, 12)
    for row, (key, why) in enumerate(top):
        sheet.write_string(row, 0, key)
        sheet.write_blank(row, 1, None, box)
        sheet.write_comment(row, 1, why)
    start = len(top) + 1
    columns = columns_of(plan, qualified)
    for column, name in enumerate(columns):
        sheet.write_string(start, column, name, head)
    sheet.freeze_panes(start + 1, 2)
    for offset, filled in enumerate(prepared_rows(plan, qualified), start=1):
        for column, name in enumerate(columns):
            value = filled.get(name)
            if value is None:
                sheet.write_blank(start + offset, column, None, box)
            else:
                sheet.write_string(start + offset, column, value, box)


def columns_of(plan: Plan, qualified: bool) -> tuple[str, ...]:
    """Return the form's columns."""
    if not qualified:
        return HOUSEHOLDER_COLUMNS
    return (*HOUSEHOLDER_COLUMNS, *LEG_COLUMNS, *(THIRD_LEG if plan.service == "three-phase" else ()))


def prepared_rows(plan: Plan, qualified: bool) -> list[dict[str, str]]:
    """Return the form's rows with what is known beforehand."""
    if qualified:
        name = plan.panel_load.name if plan.panel_load is not None else "large load"
        return [{"kind": "run", "label": f"{name}, {load} load"} for load in ("full", "light") for _ in range(REPEATS)]
    name = plan.reference.name if plan.reference is not None else "heater"
    return [
        {"kind": "quiet", "note": "late evening"},
        *({"kind": "run", "label": f"{name}, off-on-off", "connection": "line-to-neutral"} for _ in range(REPEATS)),
        {"kind": "main off"},
    ]
