"""Downloads that were written after the reading was built: the same energies, or one question."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from interval_layouts import ZONE, Made, make
from interval_layouts_fresh import FRESH, NO_AUTUMN, STEPS, ZONES, asked
from interval_layouts_portals import PORTAL_ASKS, PORTALS
from interval_layouts_wary import ASKS, WARY
from interval_reading import CHANGES, FIRSTS, read, same

from reconcile.errors import InputError
from reconcile.read.layouts import raw_tables
from reconcile.read.wrappings import interval_files

EVERY = {**FRESH, **WARY, **PORTALS}
OPEN = {**ASKS, **PORTAL_ASKS}


def drawn(name: str, seed: int, first: datetime, place: int) -> Made | None:
    """Readings for a layout; None where it has no place for the hour that the clock repeats."""
    zone = ZONES.get(name, ZONE)
    minutes = STEPS.get(name, (15, 60, 30, 5))
    made = make(seed, first=first, step=60 * minutes[place % len(minutes)], zone=zone)
    lost = name in NO_AUTUMN and len({t.utcoffset() for t in made.begins}) > 1 and first.month > 9
    return None if lost else made


@pytest.mark.parametrize("name", [name for name in EVERY if name not in OPEN])
@given(seed=st.integers(0, 10_000), first=st.sampled_from((*FIRSTS, *CHANGES)), place=st.integers(0, 3))
@settings(max_examples=6, deadline=None)
def test_a_download_is_read_to_the_last_watt_hour(name: str, seed: int, first: datetime, place: int) -> None:
    made = drawn(name, seed, first, place)
    if made is None:
        return
    written = EVERY[name](made)
    toml = written.toml if written.toml.startswith("[house]") else f"[house]\n{written.toml}"
    same(read(written.files, toml.replace("[house]\n", f"[house]\ntimezone = '{made.zone}'\n", 1), ""), made, written)


@pytest.mark.parametrize("name", OPEN)
def test_what_two_registers_leave_open_is_asked(name: str) -> None:
    made = make(2)
    written = EVERY[name](made)
    with pytest.raises(InputError) as caught:
        read(written.files, written.toml)
    asks, channel = OPEN[name]
    assert len(caught.value.faults) == 1
    assert asks in str(caught.value)
    interval = read(written.files, f"{written.toml}[interval]\nchannel = '{channel}'\n")
    np.testing.assert_allclose(interval.kwh, made.kwh, rtol=0, atol=5e-7)


@pytest.mark.parametrize("name", asked(make(1)))
def test_one_question_is_asked_and_answered(name: str) -> None:
    made = make(1)
    question = asked(made)[name]
    with pytest.raises(InputError) as caught:
        read(question.files)
    assert len(caught.value.faults) == 1
    assert question.asks in str(caught.value)
    interval = read(question.other or question.files, question.toml)
    np.testing.assert_allclose(interval.kwh, made.kwh, rtol=0, atol=5e-7)


@pytest.mark.parametrize("name", ["Cost", "Current (A)", "Usage (gallons)", "Temperature", "Voltage", "Price per kWh"])
def test_a_column_that_is_no_electricity_is_refused_even_alone(name: str) -> None:
    made = make(2)
    rows = "\n".join(f"{begin:%Y-%m-%d %H:%M},{value:.3f}" for begin, value in made.pairs)
    with pytest.raises(InputError, match="it holds no electricity"):
        read({"interval.csv": f"Start,{name}\n{rows}\n"})


def test_a_header_that_names_standard_time_is_taken_at_its_word_in_summer_too() -> None:
    made = make(2, first=datetime(2025, 6, 12), zone=ZONE)
    hour = timedelta(hours=1)
    rows = "\n".join(f"{begin - hour:%Y-%m-%d %H:%M},{value:.3f}" for begin, value in made.pairs)
    interval = read({"interval.csv": f"Start (CST),kWh\n{rows}\n"}, f"[house]\ntimezone = '{made.zone}'\n", "")
    np.testing.assert_array_equal(interval.starts.astype(np.int64), made.instants)
    assert any(one.code == "standard-time" for one in interval.assumed)


def test_a_lost_byte_in_wide_letters_is_a_fault_and_not_the_end_of_the_readings() -> None:
    made = make(2)
    rows = "".join(f"{begin:%Y-%m-%d %H:%M},{value:.3f}\n" for begin, value in made.pairs)
    whole = f"Start,kWh\n{rows}".encode("utf-16")
    with pytest.raises(InputError, match="torn"):
        read({"interval.csv": whole[: len(whole) // 2] + b"\x0a" + whole[len(whole) // 2 :]})


def test_a_cell_of_endless_digits_is_a_fault_with_its_row(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(interval_files, "open_text", partial(raw_tables.open_text, small=2000))
    made = make(2)
    rows = [f"{begin:%Y-%m-%d %H:%M},{value:.3f}" for begin, value in made.pairs]
    rows[40] += (raw_tables.LONGEST_LINE - 1000) * "9" + "x"
    with pytest.raises(InputError, match=r"row 42: a cell holds 190\d\d letters"):
        read({"interval.csv": "\n".join(["Start,kWh", *rows])})
