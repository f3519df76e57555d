"""A download beside two bills, read, and compared with what was written."""

from __future__ import annotations

import tempfile
from datetime import datetime
from pathlib import Path

import numpy as np
from interval_layouts import HOUSE, Made, Written

from reconcile.house import Interval
from reconcile.read import read_house

BILLS = "start,end,kwh\n2025-01-07,2025-02-06,912\n2025-02-06,2025-03-07,801\n"
FIRSTS = (datetime(2025, 3, 7), datetime(2025, 10, 31), datetime(2025, 6, 12), datetime(2024, 12, 30))
CHANGES = (datetime(2025, 3, 7), datetime(2025, 3, 28), datetime(2025, 10, 3), datetime(2025, 10, 24))
"""Days about the clock changes of America, Europe and Australia."""


def read(files: dict[str, str | bytes], toml: str = "", house: str = HOUSE) -> Interval:
    with tempfile.TemporaryDirectory() as place:
        for name, content in {"bills.csv": BILLS, "house.toml": house + toml, **files}.items():
            path = Path(place, name)
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content if isinstance(content, bytes) else content.encode())
        interval = read_house(place).interval
    assert interval is not None
    return interval


def same(interval: Interval, made: Made, written: Written) -> None:
    np.testing.assert_array_equal(interval.starts.astype(np.int64), made.instants)
    drawn = made.kwh - made.back if written.net else made.kwh
    np.testing.assert_allclose(interval.kwh, drawn, rtol=0, atol=5e-7)
    assert interval.net == written.net
    assert interval.step_seconds == made.step
    if written.back:
        assert interval.received_kwh is not None
        np.testing.assert_allclose(interval.received_kwh, made.back, rtol=0, atol=5e-7)
    else:
        assert interval.received_kwh is None
