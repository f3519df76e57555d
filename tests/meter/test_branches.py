"""Breaker by breaker: what was typed names the circuit, and what to do there."""

from dataclasses import replace
from datetime import date
from itertools import permutations

import numpy as np
import pytest
from weigh_houses import house

import reconcile
from reconcile.house.site import Branch, FieldTest, Quiet, Registered
from reconcile.meter.branches import circuit_found
from reconcile.meter.judge import judge_test
from reconcile.report.pages.letter import letter_text
from reconcile.report.views.asking_view import phone_lines
from reconcile.report.views.field_readings import readings

from .written import read

LEAK = (
    Branch("3 kitchen", 120.0),
    Branch("5 bedrooms", 0.0, unplugged=True),
    Branch("7 shed", 410.0, unplugged=True, day=date(2025, 6, 20)),
)
LOAD = (Branch("3 kitchen", 410.0), Branch("5 bedrooms", 0.0), Branch("9 bath", 15.0, unplugged=True))

QUIET = Quiet(Registered(register_start=4400.0, register_end=4401.9, seconds=28800.0))


def leaking(branches):
    """A house with 400 W round the clock since the tenth bill, and what its breakers showed."""
    home = house()
    bills = tuple(replace(b, kwh=b.kwh + 9.6 * b.days * (i >= 9)) for i, b in enumerate(home.bills))
    return replace(home, bills=bills, field_test=FieldTest(branches=branches))


def test_the_circuit_does_not_hang_on_the_order_of_the_readings():
    for branches, circuit in ((LEAK, "7 shed"), (LOAD, "3 kitchen"), (LOAD[1:], None)):
        for some in permutations(branches):
            found = circuit_found(some)
            assert (None if found is None else found.circuit) == circuit


def test_it_is_read_by_its_keys_and_by_the_words_of_the_sheet():
    plain, _ = read(
        '[[branch]]\ndate = 2025-06-20\ncircuit = "7 shed"\nfell_watts = 410\nunplugged = true\nnote = "dry"\n'
    )
    words, gate = read(
        '[[branch]]\ndate = 2025-06-20\nbreaker = "7 shed"\n"fell by" = "0.41 kW"\n"all unplugged" = "yes"\n'
    )
    assert not gate.faults
    assert plain.branches == words.branches == LEAK[2:]


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ('circuit = "7 shed"', "fell_watts"),
        ("fell_watts = 410", "circuit"),
        ('circuit = "7 shed"\nfell_watts = -3', "fell_watts"),
        ('circuit = "7 shed"\nfell_watts = 0.82', "fell_watts"),  # kW
        ('circuit = "7 shed"\nfell_watts = 410\nunplugged = "perhaps"', "unplugged"),
    ],
)
def test_what_is_missing_or_wrong_is_asked_for(text, names):
    _, gate = read(f"[[branch]]\n{text}\n")
    assert [names in fault.column for fault in gate.faults] == [True]


def test_a_circuit_that_takes_as_much_with_everything_unplugged_is_left_off_and_an_electrician_called():
    answer = reconcile.reconcile(leaking(LEAK))
    first = answer.verdict.next_steps[0]
    assert first.code == "leave-off"
    assert "7 shed" in first.text
    assert all(said in first.text for said in ("off", "wet ground", "metal", "licensed electrician", "410 W"))
    codes = [step.code for step in answer.verdict.next_steps]
    assert not {"breakers", "quiet", "began", "main-off"} & set(codes[:2])
    assert "breakers" not in codes
    assert any("7 shed" in reason for reason in answer.verdict.reasons)
    assert "circuit 7 shed unplugged its wiring still takes about 410 W" in answer.verdict.headline
    assert "Simple checks" not in answer.verdict.headline
    (said,) = phone_lines(answer)
    assert said.startswith("Call a licensed electrician")


def test_a_circuit_with_a_load_is_unplugged_in_turn():
    answer = reconcile.reconcile(leaking(LOAD))
    first = answer.verdict.next_steps[0]
    assert first.code == "one-circuit"
    assert "3 kitchen" in first.text
    assert any("Leave that breaker off" in outcome.then for outcome in first.would_show)
    assert "breakers" not in [step.code for step in answer.verdict.next_steps]


@pytest.mark.parametrize("quiet", [(), (QUIET,)])
def test_the_judged_test_asks_the_same_of_the_circuit_as_the_answer_to_the_bills(quiet):
    for branches in (LEAK, LOAD):
        home = leaking(branches)
        home = replace(home, field_test=replace(home.field_test, quiet=quiet))
        judged = judge_test(home)
        assert judged.next_steps[0].startswith(reconcile.reconcile(home).verdict.next_steps[0].text)
        assert "Leave that breaker off" in judged.next_steps[0] or "Leave the breaker" in judged.next_steps[0]
        assert "licensed electrician" in judged.next_steps[0]
        assert not any("known load" in step for step in judged.next_steps)


def test_breakers_of_which_none_slows_the_meter_leave_the_search_open():
    answer = reconcile.reconcile(leaking(LOAD[1:]))
    assert "leave-off" not in [step.code for step in answer.verdict.next_steps]
    assert any("No breaker" in reason for reason in answer.verdict.reasons)


def test_readings_at_the_breakers_weigh_nothing_by_themselves():
    with_them, without = (reconcile.reconcile(leaking(some)) for some in (LEAK, ()))
    np.testing.assert_allclose(
        [c.probability for c in with_them.causes], [c.probability for c in without.causes], rtol=1e-12
    )


def test_judge_record_and_letter_tell_it():
    home = leaking(LEAK)
    judged = judge_test(home)
    assert "7 shed" in judged.headline
    assert "7 shed" in judged.text()
    assert judged.to_dict()["circuit"] == {
        "circuit": "7 shed", "fell_watts": 410.0, "unplugged": True, "day": "2025-06-20",
    }  # fmt: skip
    assert any("7 shed" in reading.what for reading in readings(home.field_test))
    assert "7 shed" in letter_text(reconcile.reconcile(home))
