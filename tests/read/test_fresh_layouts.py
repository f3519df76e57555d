"""Downloads that were written after the reading was built: the same energies, or one question."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from interval_layouts import ZONE, make
from interval_layouts_fresh import FRESH, NO_AUTUMN, STEPS, ZONES, asked
from test_interval_layouts import CHANGES, FIRSTS, read, same

from reconcile.errors import InputError


@pytest.mark.parametrize("name", FRESH)
@given(seed=st.integers(0, 10_000), first=st.sampled_from((*FIRSTS, *CHANGES)), place=st.integers(0, 3))
@settings(max_examples=6, deadline=None)
def test_a_download_is_read_to_the_last_watt_hour(name: str, seed: int, first: datetime, place: int) -> None:
    zone = ZONES.get(name, ZONE)
    minutes = STEPS.get(name, (15, 60, 30, 5))
    made = make(seed, first=first, step=60 * minutes[place % len(minutes)], zone=zone)
    if name in NO_AUTUMN and len({t.utcoffset() for t in made.begins}) > 1 and first.month > 9:
        return
    written = FRESH[name](made)
    same(read(written.files, written.toml, f"[house]\ntimezone = '{zone}'\n"), made, written)


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
