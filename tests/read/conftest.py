"""A house in order, as text, for tests that break one thing of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from reconcile.errors import Fault, InputError
from reconcile.read import read_house

HOUSE = {
    "house.toml": """\
[house]
name = "Alder Court"
timezone = "America/Chicago"
currency = "USD"
temperature_unit = "C"
floor_area = "150 m^2"

[bills]
dates = "reading"

[meter]
digits = 5

[band]
coverage = 0.95
""",
    "bills.csv": """\
start,end,kwh,amount,read_type
2025-01-07,2025-02-06,912,131.20,actual
2025-02-06,2025-03-07,801,115.95,estimated
2025-03-07,2025-04-08,733,106.61,actual
""",
    "loads.csv": """\
load,count,watts,run_hours,share_on,follows,months,source
Refrigerator,1,150,,0.4,always,,nameplate
Lamps,8,9,5,,,,nameplate
Space heater,1,1500,4,0.7,,11-2,nameplate
Heat pump,1,2800,,,heating,,nameplate
""",
    "weather.csv": """\
date,mean
2025-01-07,-3.0
2025-01-08,-1.5
2025-01-09,0.5
""",
    "interval.csv": """\
time,kwh
2025-01-07 00:00,0.50
2025-01-07 01:00,0.45
2025-01-07 02:00,0.61
2025-01-07 03:00,0.58
""",
    "events.csv": """\
date,until,kind,load,note
2025-01-20,2025-01-27,away,,
2025-02-10,,new-load,Lamps,
""",
}

MakeHouse = Callable[..., Path]


@pytest.fixture
def make_house(tmp_path: Path) -> MakeHouse:
    """Return a function that writes the house in order, but for files given by name (None takes one away)."""

    def make(changes: dict[str, str | bytes | None] | None = None, /) -> Path:
        folder = tmp_path / "house"
        folder.mkdir(exist_ok=True)
        for name, content in {**HOUSE, **(changes or {})}.items():
            if content is not None:
                (folder / name).parent.mkdir(exist_ok=True)
                (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
        return folder

    return make


@pytest.fixture
def faults_of() -> Callable[[Path], tuple[Fault, ...]]:
    """Return a function that reads a house which must be refused, and gives its faults."""

    def faults(path: Path) -> tuple[Fault, ...]:
        with pytest.raises(InputError) as caught:
            read_house(path)
        return caught.value.faults

    return faults
