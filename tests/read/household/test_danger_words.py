"""Words of danger in a line of one's own: what must be known for a sign, and what only sounds like one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import reconcile
from reconcile.errors import InputError
from reconcile.house import DANGERS, House
from reconcile.read import read_house
from reconcile.read.household.danger_rules import DOUBTS, QUESTIONS
from reconcile.read.household.danger_rules import SIGNS as SIGNS_OF
from reconcile.read.household.danger_words import State, signs_in
from reconcile.report.screens import screen
from reconcile.texts.danger_signs import DANGER
from reconcile.texts.labels import SIGNS

TRUE = {
    "shock": (
        "I got a shock from the washer",
        "got shocked touching the faucet",
        "My wife got a small shock from the shower tap",
        "felt a tingle in the shower",
        "the dryer gives me a tingle",
        "kid was zapped by the fence",
        "tingling when touching the metal sink",
        "fridge shocks us when we touch it",
        "I felt an electric shock at the stove",
        "bill up, and I got a shock from the dryer",
        "got zapped by the outdoor outlet",
        "mild shock off the kitchen tap",
        "If I touch the washer I get a shock",
        "Washer shocked me when I touched it",
        "dog got a shock near the meter",
        "water pipe tingles when touched",
        "gets a jolt from the panel door",
    ),
    "burning_smell": (
        "burning smell at the meter",
        "meter box smells burnt",
        "smells like burning near the panel",
        "smell of burning plastic in the kitchen",
        "fishy smell by the breaker panel",
        "burnt plastic smell",
        "it smells like something is burning",
        "there is an electrical burning smell",
        "smelled something burning behind the fridge outlet",
        "acrid smell in the basement",
        "smells of hot plastic near outlet",
        "burning rubber smell when heater is on",
        "hot smell from the breaker box",
        "panel has a burnt smell",
        "breaker panel smells like fish",
    ),
    "buzzing": (
        "meter box buzzes",
        "meter box feels warm and buzzes",
        "buzzing noise from the panel",
        "breaker box crackles at night",
        "the outlet in the bedroom buzzes",
        "hear buzzing at the electric meter",
        "panel is buzzing loudly",
        "a sizzling sound in the wall",
        "light switch crackles",
        "arcing at the meter socket",
        "loud buzz from fuse box",
        "the main breaker hisses",
        "no power in garage, panel buzzes",
        "not normal: meter buzzing",
    ),
    "warm_meter": (
        "meter is warm",
        "the meter box feels warm and buzzes",
        "panel hot to touch",
        "meter box hums loudly and feels hot to the touch",
        "breaker gets very hot",
        "the breaker panel is too hot to touch",
        "warm breaker",
        "electric meter gets hot when the dryer runs",
        "main breaker feels warm",
        "Fuse box is overheating",
    ),
    "sparks_or_scorching": (
        "outlet sparks when I plug in the heater",
        "saw sparks at the outlet",
        "plug melted",
        "scorch marks around dryer outlet",
        "smoke from the dryer outlet last night",
        "melted plug on the dryer",
        "scorch marks on the kitchen outlet",
        "burn marks around the socket",
        "outlet hot to touch",
        "dryer cord is hot",
        "the extension cord gets hot",
        "smoke came out of the panel",
        "wires burnt in the junction box",
        "sparks from breaker box",
        "charger melted",
        "blackened outlet behind TV",
        "socket is charred",
        "the outlet is warm",
        "burned outlet",
        "sparks flew when I switched the dryer",
    ),
    "lights_brighten_and_dim": (
        "lights flicker and get brighter when the fridge starts",
        "half the house lost power, other half too bright",
        "some lights get brighter while others dim",
        "lights brighten when the AC starts",
        "half the lights go bright and others dim",
        "kitchen lights turn very bright",
        "lights dim and then brighten",
        "living room lights got brighter when the dryer came on",
    ),
    "water_at_meter": (
        "meter socket full of water",
        "water in the meter box",
        "rust and water inside the panel",
        "meter box is wet",
        "panel is rusted",
        "rain got into the breaker panel",
        "water dripping into the fuse box",
        "corrosion in the meter socket",
        "breaker box rusty",
    ),
    "damaged_conduit": (
        "service cable is torn",
        "conduit pulled away from the wall",
        "weatherhead is hanging",
        "broken conduit at the meter",
        "bare wires in the basement",
        "frayed cord",
        "meter box hanging off the wall",
        "tree fell, service drop is sagging",
        "exposed wiring in attic",
    ),
}
OVER = (
    "Outlet sparked. Electrician replaced it.",
    "burning smell at the meter, repaired by the utility",
    "fixed the buzzing breaker",
    "replaced burnt outlet",
    "meter box buzzed, utility fixed it May 3",
    "plug melted - replaced",
    "got a shock from the washer; fixed",
    "repaired the melted plug",
    "breaker was hot, replaced",
    "burning smell at panel, dealt with",
)
NOT_OVER = (
    "replaced the meter and it buzzes",
    "electrician replaced the panel, now it buzzes",
    "meter buzzes, replaced but still buzzing",
    "burning smell, needs to be fixed",
    "outlet sparks, not fixed yet",
    "meter buzzes; asked to have it repaired",
    "burning smell at meter. Fixed the roof.",
    "breaker hot, will be replaced",
)
FALSE = (
    "no burning smell",
    "no smell at the meter",
    "no sparks",
    "meter is not warm",
    "warm house",
    "warm weather",
    "very warm month",
    "hot water heater",
    "hot water",
    "new hot tub",
    "hot summer, meter read late",
    "hot day, breaker tripped",
    "bill shock",
    "I was shocked by the bill",
    "got a shock when I saw the bill",
    "the bill gave us a shock",
    "sticker shock from this amount",
    "shocked at how high the usage is",
    "pool shock added",
    "shocked the pool",
    "static shock in winter",
    "burned wood instead of oil",
    "wood stove burning",
    "smells of burnt toast",
    "candle smell burning",
    "new smoke detector batteries",
    "spark plug replaced on generator",
    "trip to Sparks, Nevada",
    "switched to warm white bulbs",
    "replaced burned out bulb",
    "dryer heating element burnt out",
    "new LED lights brighter",
    "installed brighter lights",
    "solar panels installed",
    "solar panels get hot",
    "radiant panel warm",
    "water meter leaking",
    "gas meter replaced",
    "water heater leaking",
    "neighbors buzzing about it",
    "fridge buzzes",
    "buzz cut",
    "crackling fire",
    "vacation",
    "away on vacation",
    "family of 5 visiting, space heaters in guest rooms",
    "Tom left for college",
    "bought an electric car",
    "utility worked on meters in basement of both apartments",
    "new tenants upstairs",
    "smart meter installed",
    "old dial meter swapped for smart meter",
    "breaker tripped",
    "meter read",
    "heat pump repaired",
    "warm up the car",
    "heated blanket",
    "hot plate used a lot",
    "power outage 2 hours",
    "power line down, outage 2 days",
    "arc fault breaker installed",
    "new panel 200 A",
    "panel upgrade",
    "plugged in block heater",
    "plug-in heater",
    "plug-in hybrid",
    "baby born",
    "thermostat set to 21",
    "dimmer installed",
    "turned off lights",
    "lights on all night",
    "call if the meter buzzes",
    "If you smell burning, call 555-0100",
    "report any sparks at the meter",
    "risk of shock",
    "asked whether the meter buzzes",
    "shock absorber",
    "outlet mall trip",
    "charger installed",
    "phone charger warm",
    "rain",
    "rainy month",
    "water leak in bathroom fixed",
    "leak in the pool",
    "conduit installed",
    "meter does not buzz",
    "the panel isn't hot",
    "never got a shock",
    "nobody felt a shock",
    "no fishy smell",
    "without any burning smell",
    "the bill smells fishy",
    "meter reading looks fishy",
    "something fishy about this bill",
    "bright days",
    "days get brighter",
    "melted snow",
    "cable TV cancelled",
    "wireless plug replaced",
    "switch to new plan",
    "switched off water heater",
    "electric range",
    "fuse replaced",
    "hot yoga",
    "hot flashes",
    "glow sticks",
    "flash sale heater",
    "surge protector bought",
    "whole house surge protector",
    "smoked turkey, oven all day",
    "burn-in test of PC",
    "pumping water, wet basement",
    "wet basement, sump pump ran",
    "flooded basement",
    "dehumidifier hums",
    "fire pit",
    "fireplace",
    "firewood burned",
    "loose window",
    "broken window",
    "broken AC",
    "live in guest",
    "live Christmas tree lights",
    "Christmas lights",
    "outside lights on timer",
    "grow lights bright",
    "hot wings party",
    "kettle boiling",
    "heat wave, very hot",
    "AC ran on hot days",
    "warm floor installed in bath",
    "towel warmer",
    "meter box moved",
    "meter in hot garage",
    "estimated because meter frozen",
)
DATA = Path(__file__).parents[2] / "data"
NOTES_OF_DANGER = (DATA / "notes_of_danger.txt").read_text(encoding="utf-8").splitlines()
"""Invented notes of many hands: terse, rambling, misspelt, in a second language, in a trade's jargon."""
NOTES_OF_NONE = (DATA / "notes_of_none.txt").read_text(encoding="utf-8").splitlines()
"""The same where nothing is wrong, though much is hot, smells, buzzes or shocks."""
EVERY = [(name, line) for name, lines in TRUE.items() for line in lines]


def _there(text: str) -> set[str | None]:
    return {sign.name for sign in signs_in(text) if sign.state is State.THERE}


@pytest.mark.parametrize(("name", "line"), EVERY)
def test_a_sign_is_known_by_its_words(name: str, line: str) -> None:
    assert name in _there(line)


@pytest.mark.parametrize("line", FALSE)
def test_what_only_sounds_like_a_sign_is_none(line: str) -> None:
    assert signs_in(line) == ()


@pytest.mark.parametrize("line", OVER)
def test_what_was_repaired_is_over(line: str) -> None:
    assert {sign.state for sign in signs_in(line)} == {State.OVER}


@pytest.mark.parametrize("line", NOT_OVER)
def test_what_is_still_there_or_waits_for_its_repair_is_not(line: str) -> None:
    assert _there(line)


def test_every_sign_can_be_told_and_every_one_is_explained() -> None:
    assert set(TRUE) == set(DANGERS)
    assert set(DANGERS) < set(SIGNS) == set(DANGER)


@given(st.sampled_from(EVERY), st.sampled_from(FALSE), st.sampled_from([". ", "; ", "! ", "\n", " - "]), st.booleans())
def test_another_sentence_beside_it_hides_no_sign(
    told: tuple[str, str], beside: str, between: str, first: bool
) -> None:
    name, line = told
    if beside.endswith("fixed") or "repaired" in beside or "replaced" in beside or "report" in beside:
        return  # what was repaired may be the thing itself
    text = f"{line}{between}{beside}" if first else f"{beside}{between}{line}"
    if between in (". ", "! ", "\n", " - "):
        assert name in _there(text)


@given(
    st.sampled_from(EVERY),
    st.sampled_from([str.upper, str.title, lambda text: f"  {text} !", lambda text: text.replace(" ", "  ")]),
)
def test_case_and_spaces_change_nothing(told: tuple[str, str], change: Callable[[str], str]) -> None:
    name, line = told
    assert name in _there(change(line))


@given(st.lists(st.sampled_from(FALSE), min_size=1, max_size=4))
def test_harmless_lines_stay_harmless_together(lines: list[str]) -> None:
    assert signs_in(". ".join(lines)) == ()


@given(
    st.sampled_from(["buzzing", "sparks", "burning smell", "shock", "smoke", "melted plug"]),
    st.sampled_from(["no", "never any", "not a", "without", "no more"]),
    st.sampled_from(["at the meter", "in the panel", ""]),
)
def test_what_is_denied_is_not_there(what: str, denial: str, where: str) -> None:
    assert _there(f"{denial} {what} {where}") == set()


@given(st.text(max_size=300))
def test_any_text_is_looked_through(text: str) -> None:
    signs_in(text)


BILLS = "start,end,kwh,note\n2025-01-01,2025-02-01,600,\n2025-02-01,2025-03-01,610,{}\n"


@pytest.fixture
def house_of(tmp_path: Path) -> Callable[..., House]:
    def made(**files: str) -> House:
        for name, text in files.items():
            (tmp_path / name.replace("__", ".")).write_text(text)
        return read_house(tmp_path)

    return made


@pytest.mark.parametrize(
    ("files", "signs"),
    [
        (
            {"bills__csv": BILLS.format("lights flicker and get brighter when the fridge starts")},
            ("lights_brighten_and_dim",),
        ),
        (
            {"bills__csv": BILLS.format(""), "events__txt": "2025-02-01 meter box buzzes and smells burnt\n"},
            ("buzzing", "burning_smell"),
        ),
        (
            {
                "bills__csv": BILLS.format(""),
                "events__csv": "date,kind,note\n2025-02-01,other,burning smell at the meter\n",
            },
            ("burning_smell",),
        ),
        (
            {"bills__csv": BILLS.format(""), "loads__csv": "load,watts,note\nHeater,1500,plug gets hot\n"},
            ("sparks_or_scorching",),
        ),
        ({"bills__csv": BILLS.format("I got a shock from the washer").replace("note", "my remarks of it")}, ("shock",)),
        ({"bills__csv": BILLS.format(""), "events__csv": "date,kind,note\n2025-02-01,repair,burnt outlet\n"}, ()),
        ({"bills__csv": BILLS.format("meter box buzzes"), "house__toml": "[danger]\nbuzzing = false\n"}, ()),
    ],
)
def test_a_sign_in_a_line_of_a_file_is_as_the_flag(
    house_of: Callable[..., House], files: dict[str, str], signs: tuple[str, ...]
) -> None:
    assert house_of(**files).dangers == signs


def test_the_answer_is_urgent_and_quotes_the_line_and_how_to_say_that_it_is_over(
    house_of: Callable[..., House],
) -> None:
    house = house_of(bills__csv=BILLS.format("meter box buzzes"))
    result = reconcile.reconcile(house)
    assert result.verdict.decision == "urgent"
    short_answer = " ".join(str(block) for block in screen.short(result, lambda block: 1))
    for told in (short_answer, result._repr_html_()):
        assert "meter box buzzes" in told
        assert "buzzing = false" in told
        assert "bills.csv, row 3" in told


def test_a_doubtful_line_is_told_and_asked_about(house_of: Callable[..., House]) -> None:
    house = house_of(bills__csv=BILLS.format("lights flicker"))
    assert house.dangers == ()
    assert any("lights flicker" in notice and "may tell of a danger" in notice for notice in house.notices)


@pytest.mark.parametrize(
    "line",
    ["breaker keeps tripping and smells", "main breaker will not reset", "outlet cover warped"],
)
def test_what_may_be_a_sign_is_doubtful(line: str) -> None:
    assert {sign.state for sign in signs_in(line)} == {State.DOUBTFUL}


@pytest.mark.parametrize("line", ["smell of gas", "gas smell in the kitchen", "smelled propane by the range"])
def test_a_smell_of_gas_is_told_with_what_to_do(house_of: Callable[..., House], line: str) -> None:
    assert [sign.state for sign in signs_in(line)] == [State.DOUBTFUL]
    assert any("go out, and call" in notice for notice in house_of(bills__csv=BILLS.format(line)).notices)
    assert not signs_in(f"no {line}")


def test_a_word_alone_and_a_note_beside_a_reading_on_site_are_read_too(house_of: Callable[..., House]) -> None:
    assert house_of(bills__csv=BILLS.format("arcing")).dangers == ("sparks_or_scorching",)
    site = '[[quiet]]\ndate = 2025-02-20\nmeter_kw = 0.2\nnote = "the meter was buzzing"\n'
    house = house_of(bills__csv=BILLS.format(""), field_test__toml=site)
    assert house.dangers == ("buzzing",)
    assert any("the meter was buzzing" in notice for notice in house.notices)


def test_a_table_of_danger_beside_readings_on_site_is_heeded_too(house_of: Callable[..., House]) -> None:
    """It was refused as a key that is not known, with no word of caution."""
    site = "[danger]\nburning_smell = true\nshock = false\n\n[[quiet]]\ndate = 2025-02-20\nmeter_kw = 0.2\n"
    assert house_of(bills__csv=BILLS.format(""), field_test__toml=site).dangers == ("burning_smell",)


def test_frames_tell_and_deny_too() -> None:
    bills = [{"start": "2025-01-01", "end": "2025-02-01", "kwh": 600, "note": "the outlet sparks"}]
    assert House.from_frames(bills).dangers == ("sparks_or_scorching",)
    assert House.from_frames(bills, dangers={"sparks_or_scorching": False}).dangers == ()


@pytest.mark.parametrize("toml", ["", "[danger]\nshock = true\n"])
def test_a_danger_is_told_before_the_faults_of_the_files(house_of: Callable[..., House], toml: str) -> None:
    note = "" if toml else "meter box buzzes"
    with pytest.raises(InputError) as told:
        house_of(bills__csv=BILLS.format(note).replace("610", "6l0"), house__toml=toml)
    first, *others = map(str, told.value.faults)
    assert "a sign of danger is written here" in first
    assert "emergency line" in first
    assert ("shock" if toml else "meter box buzzes") in first
    assert len(others) == 1


def _shares(notes: list[str]) -> tuple[float, float]:
    """Return the share of notes that stop the work, and of those that are at least asked about."""
    states = [{sign.state for sign in signs_in(note)} for note in notes]
    stopped = sum(State.THERE in found for found in states)
    heard = sum(bool(found & {State.THERE, State.DOUBTFUL}) for found in states)
    return stopped / len(notes), heard / len(notes)


def test_most_notes_of_danger_stop_the_work_and_nearly_all_are_heard() -> None:
    stopped, heard = _shares(NOTES_OF_DANGER)
    assert stopped >= 0.93
    assert heard >= 0.97


def test_notes_of_none_are_hardly_ever_taken_for_one() -> None:
    stopped, heard = _shares(NOTES_OF_NONE)
    assert stopped <= 0.005
    assert heard <= 0.01


@pytest.mark.parametrize(
    "line",
    [
        "Zähler riecht verbrannt",
        "Sicherungskasten heiß",
        "le compteur est très chaud",
        "prise brûlée",
        "chispas en el medidor",
        "olor a quemado",
        "puzza di bruciato",
        "scossa dal rubinetto",
        "stopcontact gesmolten",
        "luktar bränt vid elmätaren",
        "levei choque no chuveiro",
    ],
)
def test_a_sign_is_known_in_the_languages_of_the_headings(line: str) -> None:
    assert _there(line)


@pytest.mark.parametrize(
    "line", ["kein Rauch am Zähler", "compteur remplacé en mai", "verano muy caliente", "Winter war kalt"]
)
def test_what_is_none_in_those_languages_is_none(line: str) -> None:
    assert not signs_in(line)


@pytest.mark.parametrize(
    "line", ["i can smel burnning", "recepticle is wram and buzes", "sokcet melted", "the pannel is hott"]
)
def test_a_slip_of_the_pen_hides_no_sign(line: str) -> None:
    assert _there(line)


@pytest.mark.parametrize(
    "line", ["house meeting at the switch of the season", "paper by the meter", "charged the car at the outlet"]
)
def test_a_word_like_another_is_no_slip_of_it(line: str) -> None:
    assert not signs_in(line)


def test_every_doubt_is_asked_about() -> None:
    assert {name for name, *_ in DOUBTS} == set(QUESTIONS)
    assert {name for name, *_ in SIGNS_OF} == set(DANGERS)


@pytest.mark.parametrize(
    "text", ["conduit installed. firewood burned", "new hot tub. melted snow", "panel upgrade. broken window"]
)
def test_a_sentence_with_a_thing_of_its_own_says_nothing_of_the_one_before(text: str) -> None:
    assert signs_in(text) == ()


def test_what_starts_as_it_should_bites_nobody() -> None:
    (sign,) = signs_in("since Christmas the hall light gets brighter when the fridge kicks in")
    assert sign.name == "lights_brighten_and_dim"
    assert [sign.name for sign in signs_in("the tap kicks when you touch it")] == ["shock"]
