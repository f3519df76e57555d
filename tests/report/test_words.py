from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from reconcile.house import DANGERS
from reconcile.kinds import KINDS as PRIORS
from reconcile.rounding import step_of
from reconcile.say import Voice
from reconcile.texts.cause_words import NAMES as CAUSES
from reconcile.texts.danger_signs import DANGER
from reconcile.texts.labels import FINDINGS, SIGNS, spoken

number, between = Voice().number, Voice().between


def test_every_cause_and_every_sign_of_danger_has_its_words() -> None:
    assert {prior.code for prior in PRIORS.values()} | {"none"} <= set(CAUSES)
    assert {*DANGERS, "loose-neutral", "buried-line", "poor-joint"} == set(SIGNS) == set(DANGER)


def value_of(text: str) -> float:
    return float(text.replace(",", "").replace("−", "-"))


@given(st.floats(1e-3, 1e6), st.floats(-1e6, 1e6))
def test_a_number_is_rounded_by_no_more_than_a_quarter_of_its_doubt(doubt: float, value: float) -> None:
    step = step_of(doubt)
    assert step <= doubt / 2 < 10 * step * (1 + 1e-9)
    assert abs(value_of(number(value, step)) - value) <= step / 2 * (1 + 1e-6) + 1e-9 * abs(value)


@given(st.floats(0, 1e5), st.floats(1e-2, 1e5))
def test_limits_are_never_written_narrower_than_half_of_what_they_are(low: float, width: float) -> None:
    first, _, last = between(low, low + width).partition(" to ")
    assert value_of(last) - value_of(first) >= 0.5 * width


def test_unknown_codes_are_tolerated() -> None:
    assert spoken("a-new-code", FINDINGS) == "a new code"
    assert between(None, None) == number(None) == "–"
