"""A nameplate's imp/kWh, a stopwatch's minutes, what plugs in, and headings of hundreds."""

from __future__ import annotations

from pathlib import Path

import pytest

from reconcile import read_house
from reconcile.read.values.nameplate import wh_of_one

BILLS = "start,end,{head}\n2024-01-09,2024-02-08,{0}\n2024-02-08,2024-03-08,{1}\n2024-03-08,2024-04-09,{2}\n"
RUN = """
[display]
count_wh = "{count}"
[[run]]
label = "heater"
connection = "plug-in"
pulses = 280
seconds = {seconds}
reference_watts = 1480
"""


def written(folder: Path, head: str, kwh: tuple[float, ...], **files: str) -> Path:
    (folder / "bills.csv").write_text(BILLS.format(*kwh, head=head))
    for name, text in files.items():
        (folder / f"{name}.toml").write_text(text)
    return folder


@pytest.mark.parametrize(
    ("count", "wh"),
    [("1000 imp/kWh", 1.0), ("1 Wh/imp", 1.0), ("1600 pulses per kWh", 0.625), ("7.2 Wh/rev", 7.2), ("3.6", 3.6)],
)
@pytest.mark.parametrize("seconds", ['"10:00"', '"10 min"', "600", "00:10:00"])
def test_a_run_is_read_as_nameplate_and_stopwatch_show_it(tmp_path: Path, count: str, wh: float, seconds: str) -> None:
    test = RUN.format(count=count, seconds=seconds)
    house = read_house(written(tmp_path, "kwh", (912, 801, 744), field_test=test))
    assert house.field_test is not None
    (run,) = house.field_test.runs
    assert (run.registered.seconds, run.connection) == (600.0, "line-to-neutral")
    assert house.field_test.display.count_wh == pytest.approx(wh, rel=1e-9)


def test_a_nameplate_under_meter_is_read_alike(tmp_path: Path) -> None:
    house = read_house(written(tmp_path, "kwh", (912, 801, 744), house='[meter]\npulse_wh = "500 imp/kWh"\n'))
    assert house.meters[0].pulse_wh == pytest.approx(2.0, rel=1e-9)
    assert wh_of_one("0 imp/kWh") == "0 imp/kWh"


@pytest.mark.parametrize(
    ("head", "times"), [("usage (x100 kWh)", 100), ("kwh (0.01 kWh)", 0.01), ("usage (10 kWh)", 10)]
)
def test_a_heading_that_names_hundreds_is_followed(tmp_path: Path, head: str, times: float) -> None:
    house = read_house(written(tmp_path, head, (9.12 * 100 / times, 801 / times, 744 / times)))
    assert [bill.kwh for bill in house.bills] == [912.0, 801.0, 744.0]
