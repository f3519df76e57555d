"""A year of quarter-hours is read in some three times what a bare parser takes, whatever the layout."""

from __future__ import annotations

from pathlib import Path

import interval_speed
import pytest

MOST = 3.6
"""Three is the aim, held by the bench on a quiet machine; beside other tests the measurement moves by a fifth."""

MOST_OF_ALL_LENGTHS = 5.4
"""The same of lines of a dozen lengths, a day and clock time in a cell (2.5 to 3.0 by the bench, up to 5.0 seen beside
other work); 4.6 to 6.5 by the bench where each shape of cell is read by itself."""


@pytest.mark.parametrize("layout", interval_speed.HEADS)
def test_a_year_of_quarter_hours_is_read_in_three_times_the_bare_parse(layout: str, tmp_path: Path) -> None:
    path = interval_speed.written(tmp_path / f"{layout}.csv", interval_speed.YEAR, layout)
    bare, ours = interval_speed.seconds(path, 15)
    most = MOST_OF_ALL_LENGTHS if layout in ("am-pm", "ends") else MOST
    assert ours <= most * bare, f"{ours / bare:.1f} times"
