"""The cautions themselves: complete, sourced, in plain words, and nothing that permits."""

from __future__ import annotations

import re

import pytest

from reconcile.house import DANGERS
from reconcile.meter import safety
from reconcile.meter.fork import BRANCHES
from reconcile.meter.instruments import category, category_warnings
from reconcile.site import Instrument, Instruments

EVERY = (
    *safety.FIRST,
    *safety.OUTSIDE_LOOK,
    *safety.PLUG_IN,
    *safety.MAIN_OFF,
    *safety.QUALIFIED_ONLY,
    *safety.URGENT,
)


def test_every_danger_of_a_house_has_its_answer():
    assert set(safety.DANGER) == set(DANGERS)
    for name in DANGERS:
        said = safety.dangers((name,))
        assert said[: len(safety.URGENT)] == safety.URGENT
        assert "Call:" in said[-1]


def test_several_dangers_are_all_said():
    assert len(safety.dangers(DANGERS)) == len(safety.URGENT) + len(DANGERS)


@pytest.mark.parametrize("sentence", EVERY)
def test_a_caution_is_a_sentence(sentence):
    assert sentence[0].isupper()
    assert sentence.endswith(".")
    assert "  " not in sentence


def test_figures_in_cautions_have_a_source():
    figures = {f for s in EVERY for f in re.findall(r"\d+(?:\.\d+)? ?(?:m|V|ft)\b", s)}
    sources = " ".join(s.figure for s in safety.SOURCES)
    for figure in figures:
        assert figure in sources or figure == "208 V", figure  # the service's own name


def test_every_source_says_whether_it_was_read():
    allowed = {"read", "read second-hand", "from memory", "judgement", "no published source"}
    assert {source.status for source in safety.SOURCES} <= allowed


def test_no_branch_of_the_fork_asks_to_touch_anything():
    for branch in BRANCHES:
        assert not re.search(r"\b(open|remove|touch|pull|unscrew)\b", branch.look, re.I), branch.code
        assert branch.call
    assert [branch.code for branch in BRANCHES if branch.stop] == ["underground-leak"]


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("CAT III 600 V", (3, 600.0)),
        ("cat iv", (4, None)),
        ("CAT. II 300V", (2, 300.0)),
        ("CAT 3", (3, None)),
        ("good", None),
    ],
)
def test_categories_as_they_are_written(text, read):
    assert category(text) == read


def test_what_is_said_of_a_category():
    fit = Instruments(Instrument(category="CAT IV 300 V"), Instrument(category="CAT IV 600 V"))
    assert category_warnings(fit) == ()
    assert "not for the main lugs" in category_warnings(Instruments(Instrument(category="CAT III 600 V"), fit.amps))[0]
    assert "at least 300 V" in category_warnings(Instruments(Instrument(category="CAT IV 150 V"), fit.amps))[0]
    assert len(category_warnings(Instruments())) == 2
