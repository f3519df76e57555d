"""Interval files with pieces put in, cut out or turned round: a fault with its place, or a reading; nothing else."""

from __future__ import annotations

import random
import tempfile
import time
from pathlib import Path

import pytest
from interval_layouts import LAYOUTS, ZONE, make
from interval_layouts_fresh import FRESH
from interval_layouts_fresh import STEPS as FRESH_STEPS
from interval_layouts_fresh import ZONES as FRESH_ZONES
from interval_layouts_wary import WARY
from interval_layouts_world import STEPS, WORLD, ZONES

from reconcile.errors import InputError
from reconcile.read import read_house

BILLS = "start,end,kwh\n2025-01-07,2025-02-06,912\n2025-02-06,2025-03-07,801\n"
PIECES = (
    *("", ",", ",,,,", ";", "\t", '"', '""', "\n", "\r", "\n\n\n", " ", "-", "--5", "NaN", "inf", "1e308", "-1e999"),
    *("9" * 400, "\u0663\u0664", "1_000", "0x10", "1,5", "24:00", "25:61", "2025-02-30", "31/12/9999", "0001-01-01"),
    *(
        "12/31/2025 11:59 PM",
        "CST",
        "+14:00",
        "-99:99",
        "Z",
        "Total",
        "kWh",
        "HE25",
        "\x00",
        "\x1a",
        "\ufeff",
        "ä",
        "#REF!",
    ),
    *("time,kwh", "Delivered", "-4166", "99999999", "1735689600", "=1+1", "<feed>", "{", "PK\x03\x04"),
)
ROUNDS = 5
EVERY = {**LAYOUTS, **WORLD, **FRESH, **WARY}
EVERY_ZONE = {**ZONES, **FRESH_ZONES}
EVERY_STEPS = {**STEPS, **FRESH_STEPS}


def torn(data: bytes, rng: random.Random) -> bytes:
    """Some bytes of a file changed, at random or by pieces that have broken readers."""
    out = bytearray(data)
    for _ in range(rng.randint(1, 4)):
        at = rng.randint(0, len(out))
        kind = rng.random()
        if kind < 0.5:
            out[at : at + rng.choice((0, 0, 1, 7, 40))] = rng.choice(PIECES).encode("utf-8", "surrogatepass")
        elif kind < 0.7:
            out[at : at + rng.choice((1, 20, 400))] = b""
        elif kind < 0.85 and out:
            out[min(at, len(out) - 1)] = rng.randint(0, 255)
        else:
            line = bytes(out).split(b"\n")
            i, j = rng.randrange(len(line)), rng.randrange(len(line))
            line[i], line[j] = line[j], line[i]
            out = bytearray(b"\n".join(line))
    return bytes(out)


def house_of(zone: object, toml: str) -> str:
    """The settings of a house with its zone."""
    whole = toml if toml.startswith("[house]") else f"[house]\n{toml}"
    return whole.replace("[house]\n", f"[house]\ntimezone = '{zone}'\n", 1)


@pytest.mark.parametrize("name", EVERY)
def test_a_layout_with_its_bytes_torn(name: str) -> None:
    rng = random.Random(name)
    zone = EVERY_ZONE.get(name, ZONE)
    step = 3600 if name.startswith("hour") else 60 * rng.choice(EVERY_STEPS.get(name, (15, 60)))
    written = EVERY[name](make(3, step=step, zone=zone))
    for _ in range(ROUNDS):
        with tempfile.TemporaryDirectory() as place:
            Path(place, "bills.csv").write_text(BILLS, encoding="utf-8")
            Path(place, "house.toml").write_text(house_of(zone, written.toml), encoding="utf-8")
            for file, content in written.files.items():
                path = Path(place, file)
                path.parent.mkdir(exist_ok=True)
                path.write_bytes(torn(content if isinstance(content, bytes) else content.encode(), rng))
            began = time.process_time()
            try:
                house = read_house(place)
            except InputError as error:
                faults = error.faults
            else:
                faults = ()
                assert house.interval is not None
                assert (house.interval.starts[1:] > house.interval.starts[:-1]).all()
                assert not any(action.count < 0 for action in house.interval.actions)
            assert time.process_time() - began < 2.0
        assert all(fault.file and fault.problem and fault.remedy for fault in faults)


def test_five_hundred_files_are_torn() -> None:
    assert len(EVERY) * ROUNDS >= 500
