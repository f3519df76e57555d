"""The cautions themselves: complete, sourced, short, in plain words, and nothing that permits."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reconcile.house import DANGERS, House
from reconcile.house.site import Instrument, Instruments
from reconcile.kinds import Hazard
from reconcile.meter.instruments import category, unfit
from reconcile.plan import plan_test
from reconcile.texts import safety
from reconcile.texts.categories import category_warnings
from reconcile.texts.field.field_plan_words import step_words
from reconcile.texts.field.field_steps_after import STEPS
from reconcile.texts.safety import CAUTIONS, Reader, Signal, cautions_for, first_of_all

PAGE = Path(__file__).parents[2] / "docs" / "safety.md"
SERVICES = ("split-phase", "network", "two-wire", "three-phase", "unknown")
HOUSES = [House("h", (), service=s, generation=g) for s in SERVICES for g in (False, True)]  # type: ignore[arg-type]
QUALIFIED = Reader.QUALIFIED


def sections(house):
    """Every section of both pages, by the name that the table of hazards gives it."""
    return {
        "head": first_of_all(house),
        "looking": cautions_for(Hazard.LOOK, house),
        "plug-in": cautions_for(Hazard.PLUG_IN, house),
        "branch breakers": cautions_for(Hazard.MAIN_BREAKER, house),
        "main off": cautions_for(Hazard.MAIN_BREAKER, house, moves_main=True),
        "panel, householder": cautions_for(Hazard.PANEL, house),
        "panel": cautions_for(Hazard.PANEL, house, QUALIFIED),
        "head, qualified": first_of_all(house, QUALIFIED),
    }


LIST = [
    # what may go wrong, the section in which it is said, words it is said in
    ("another rule comes first", "head", ("local codes", "utility's rules", "licensed practice")),
    ("opening anything", "head", ("no cover off", "kill")),
    ("signs of danger", "head", ("heat", "buzzing", "burning or fishy smell", "water", "rust", "tingle", "brighten")),
    ("gas", "head", ("smell gas", "go out", "switch nothing")),
    ("touching or pulling the meter", "looking", ("touch nothing: no meter, ring, seal, conduit or wire",)),
    ("wet ground, rain", "looking", ("dry ground", "rain", "arm's length")),
    ("ladder", "looking", ("no ladder",)),
    ("children and animals", "looking", ("children and animals",)),
    ("bad outlet, cord, adapter", "plug-in", ("damaged", "no extension cord or adapter", "dry hands")),
    ("overload", "plug-in", ("overloaded", "rating")),
    ("a plug that heats", "plug-in", ("more than hand-warm", "smell", "crackle")),
    ("aluminum wiring", "plug-in", ("aluminum wiring",)),
    ("fire by the heater", "plug-in", ("3 ft (1 m)", "never alone", "children")),
    ("who depends on power", "branch breakers", ("ask everyone", "medical equipment", "stair lift", "alarm")),
    ("who depends on power", "main off", ("ask everyone", "medical equipment", "stair lift", "alarm")),
    ("what cannot wait", "branch breakers", ("sump pump", "well", "freezer", "aquarium", "frost", "computer")),
    ("what cannot wait", "main off", ("sump pump", "well", "freezer", "aquarium", "frost", "computer")),
    ("the panel's cover", "branch breakers", ("hinged door", "screwed cover stays on")),
    ("the panel's cover", "main off", ("hinged door", "screwed cover stays on")),
    ("an unsound panel", "main off", ("wet", "rusted", "hot", "noisy", "worn", "not close again", "electrician")),
    ("a breaker that fails", "branch breakers", ("dry hands", "shoes", "to the side", "face away", "one hand")),
    ("in the dark", "main off", ("flashlight",)),
    ("alone", "main off", ("somebody near",)),
    ("the main moved in the branch search", "branches, steps", ("leave the main on", "never the main")),
    ("main under load", "main off", ("off last", "on first")),
    ("line side live", "main off", ("ahead of the main", "stay live")),
    ("backfeed", "main off", ("battery", "car", "generator")),
    ("a second disconnect", "main off", ("second disconnect", "leave this out")),
    ("live soil", "main off", ("underground", "keep off", "emergency line")),
    ("panel work in a householder's hands", "panel, householder", ("only a qualified person", "3 ft 6 in (1.07 m)")),
    ("unqualified help", "panel", ("only qualified persons", "hold or help", "3 ft 6 in (1.07 m)", "children")),
    ("live work", "panel", ("de-energize", "lock out, tag", "permit")),
    ("dead that is live", "panel", ("live source", "before and after testing for dead")),
    ("line side live", "panel", ("line side", "stay live", "seals stay unbroken")),
    ("backfeed", "panel", ("solar", "battery", "generator", "car", "lock out each")),
    ("shock and arc flash", "panel", ("gloves", "leather", "eye", "face", "arc", "employer's rules", "no metal")),
    ("wet floor, metal ladder, alone", "panel", ("dry floor", "metal ladder", "second person", "cut power")),
    ("an underrated instrument", "panel", ("cat iii", "cat iv", "main lugs", "sound leads", "right jacks")),
    ("bent conductors", "panel", ("bent", "as they lie", "once through", "repeatedly")),
    ("aluminum terminations", "panel", ("disturb no aluminum termination",)),
    ("main under load", "panel, steps", ("branch breakers one by one, the main last", "never under load")),
    ("who depends on power", "panel, steps", ("before anything", "medical equipment", "alarms", "stair lift")),
    ("what cannot wait", "panel, steps", ("sump pump", "well", "freezer", "heating in frost")),
    ("a plug that heats", "plug-in, steps", ("after two minutes feel the plug",)),
    ("a load left alone", "plug-in, steps", ("second person stays at the load",)),
    ("a load that is not listed, that cycles", "plug-in, steps", ("testing laboratory", "thermostat at its highest")),
    ("switched off unasked", "plug-in, steps", ("ask everyone",)),
    ("switched off unasked", "quiet, steps", ("nothing that somebody depends on", "freezer", "pump", "frost")),
    ("switched off unasked", "branches, steps", ("ask what cannot wait", "stays on")),
    ("switched off unasked", "main-off, steps", ("ask again who and what depends on power",)),
    ("a cycling load at the legs", "panel, steps", ("stays on", "leave these readings out")),
    ("live terminals beside a thermostat", "panel, steps", ("no thermostat behind a cover is touched",)),
    ("scalding water", "panel, steps", ("scalds",)),
    ("breakers moved with the cover off", "panel, steps", ("screw the cover now. no breaker is moved before",)),
    ("the cautions of the step before", "main-off, steps", ("all cautions of step 4 hold here too",)),
    ("signs of danger", "head, qualified", ("heat", "buzzing", "water", "rust", "tingle", "emergency line")),
    ("gas", "head, qualified", ("smell gas",)),
]  # fmt: skip


@pytest.mark.parametrize(("hazard", "section", "words"), LIST, ids=[f"{h}, {s}" for h, s, _ in LIST])
def test_no_hazard_of_the_list_is_lost(hazard, section, words):
    for house in HOUSES:
        if hazard == "signs of danger" and house.service == "two-wire":
            words = tuple(w for w in words if w != "brighten")
        if section.endswith(", steps"):
            told = steps_said(house, section.removesuffix(", steps"))
        else:
            told = " ".join(safety.said(sections(house)[section])).casefold()
        if told is None:  # no panel work is planned where the service is not known
            continue
        for word in words:
            assert word in told, (hazard, section, word, house.service)


def steps_said(house, section):
    """What the steps of a section themselves say."""
    code = {"panel": "legs"}.get(section, section)
    plan = plan_test(house)
    found = [step for step in plan.steps if step.code == code]
    return " ".join(step_words(found[0], plan.voice).do).casefold() if found else None


def table():
    """The table of hazards on the page: hazard, sections, codes."""
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 3 and cells[2].startswith("`"):
            yield cells[0], [s.strip() for s in cells[1].split(";")], re.findall(r"`([a-z0-9-]+)`", cells[2])


def test_the_table_on_the_page_says_where_each_caution_stands():
    stands: dict[str, set[str]] = {}
    for house in HOUSES:
        for section, codes in sections(house).items():
            for code in codes:
                stands.setdefault(code, set()).add(section)
    assert set(stands) == set(CAUTIONS), "a caution that no page prints"
    told: dict[str, set[str]] = {}
    for hazard, where, codes in table():
        for code in codes:
            assert code in CAUTIONS, (hazard, code)
            told.setdefault(code, set()).update(where)
    assert told == stands


def test_only_cautions_of_this_service_and_house():
    by = {house.service: " ".join(safety.said(sections(house)["panel"])) for house in HOUSES}
    assert "far stronger arc" in by["network"]
    assert "far stronger arc" in by["three-phase"]
    assert "far stronger arc" not in by["split-phase"] + by["two-wire"]
    assert "loose neutral" not in by["two-wire"]
    assert "600 V" in by["three-phase"]
    assert "600 V" not in by["split-phase"]
    own = [h for h in HOUSES if h.generation]
    assert all("own-generation" in sections(h)["main off"] for h in own)
    assert all("own-generation" not in sections(h)["main off"] for h in HOUSES if not h.generation)


def test_panel_work_is_told_in_full_to_the_qualified_only():
    for house in HOUSES:
        mine = {
            code
            for name, codes in sections(house).items()
            if "qualified" not in name and name != "panel"
            for code in codes
        }
        assert not mine & set(sections(house)["panel"])
        assert "clamp" not in " ".join(safety.said(mine)).casefold()


def test_the_severest_stands_first_and_nothing_twice():
    order = list(Signal)
    for house in HOUSES:
        for codes in sections(house).values():
            ranks = [order.index(CAUTIONS[code].signal) for code in codes]
            assert ranks == sorted(ranks)
            assert len(set(codes)) == len(codes)


def test_once_keeps_a_caution_where_it_is_first_needed():
    house = HOUSES[0]
    page = safety.once(
        (cautions_for(Hazard.MAIN_BREAKER, house), cautions_for(Hazard.MAIN_BREAKER, house, moves_main=True))
    )
    flat = [code for codes in page for code in codes]
    assert len(set(flat)) == len(flat)
    assert set(page[1]) == set(cautions_for(Hazard.MAIN_BREAKER, house, moves_main=True)) - set(page[0])


@pytest.mark.parametrize("caution", CAUTIONS.values(), ids=list(CAUTIONS))
def test_a_caution_names_hazard_consequence_and_avoidance(caution):
    assert caution.hazard[0].isupper()
    assert caution.hazard[-1] != "."
    assert caution.consequence
    assert caution.avoid.endswith(".")
    assert "  " not in caution.text
    assert caution.text.startswith(f"{caution.signal.name}: ")
    assert len(caution.text.split()) <= 40
    # ANSI Z535: DANGER will kill or maim, WARNING could; NOTICE is no injury
    possible = re.search(r"\bcan\b", caution.consequence) is not None
    if caution.signal is not Signal.NOTICE:
        assert possible == (caution.signal is not Signal.DANGER)


def test_a_householder_is_never_told_to_open_more_than_the_door():
    for house in HOUSES:
        for name, codes in sections(house).items():
            if name in ("panel", "head, qualified"):
                continue
            for code in codes:
                found = re.findall(r"\b(?:open|unscrew|remove|take off)\b[^.;]*", CAUTIONS[code].avoid, re.I)
                assert all("hinged door" in f for f in found), (code, found)


def test_every_danger_of_a_house_has_its_answer():
    assert set(safety.DANGER) == {*DANGERS, "loose-neutral", "poor-joint", "buried-line"}
    for name in safety.DANGER:
        said = safety.dangers((name,))
        assert said[: len(safety.URGENT)] == safety.URGENT
        assert "emergency line" in said[-1] or "fire service" in said[-1]


def test_several_dangers_are_all_said():
    assert len(safety.dangers(DANGERS)) == len(safety.URGENT) + len(DANGERS)


def test_figures_in_cautions_have_a_source():
    figures = {f for c in CAUTIONS.values() for f in re.findall(r"\d+(?:\.\d+)? ?(?:m|V|ft)\b", c.text)}
    sources = " ".join(s.figure for s in safety.SOURCES)
    assert figures
    for figure in figures:
        assert figure in sources, figure


def test_every_source_says_whether_it_was_read():
    allowed = {"read", "read second-hand", "from memory", "judgement", "no published source"}
    assert {source.status for source in safety.SOURCES} <= allowed


def test_no_branch_of_the_fork_asks_to_touch_anything():
    cases = {code: text for code, text in STEPS.items() if code.startswith("case-")}
    for code, text in cases.items():
        assert not re.search(r"\b(open|remove|touch|pull|unscrew)\b", text, re.I), code
    called = [code for code, text in cases.items() if "emergency line" in text]
    assert called == ["case-underground-leak"]


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


def said_unfit(instruments):
    return category_warnings(unfit(instruments))


def test_what_is_said_of_a_category():
    fit = Instruments(Instrument(category="CAT IV 300 V"), Instrument(category="CAT IV 600 V"))
    assert said_unfit(fit) == ()
    assert "not for the main lugs" in said_unfit(Instruments(Instrument(category="CAT III 600 V"), fit.amps))[0]
    assert "at least 300 V" in said_unfit(Instruments(Instrument(category="CAT IV 150 V"), fit.amps))[0]
    assert len(said_unfit(Instruments())) == 2
