from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from reconcile.answer import reconcile
from reconcile.house import House
from reconcile.read import read_house
from reconcile.report.pages.html import render, snippet
from reconcile.result import Reconciliation, Step
from reconcile.say import Voice
from reconcile.texts.money import bridge_sentence

Make = Callable[..., Reconciliation]

VOID = {"meta", "img", "source", "br", "link", "input", "hr"}


class Page(HTMLParser):
    """Tags in order with the names of their attributes, their values, and whether they close as they open."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, tuple[str, ...]]] = []
        self.values: list[tuple[str, str, str]] = []
        self.open: list[str] = []
        self.text: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, tuple(name for name, _ in attrs)))
        self.values += [(tag, name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.text.append(data)

    @property
    def words(self) -> str:
        return " ".join(" ".join(self.text).split())


def test_the_answer_comes_first_then_the_picture_then_what_to_do_and_say(make: Make) -> None:
    result = make()
    page = render(result)
    order = [
        result.verdict.headline,
        "chance that the meter is fast",
        "<figure>",
        "What to do next",
        "What to say",
        "Why",
        "Each bill",
        "What the billing records show",
        "What could be behind it",
        "The load list against the bills",
        "What these bills can and cannot show",
        "What was assumed",
        "How it was computed",
    ]
    places = [page.replace("\xa0", " ").index(words) for words in order]
    assert places == sorted(places)
    assert page.index("<figure>") < page.index("What to do next")


def test_danger_stands_on_top_of_everything(make: Make) -> None:
    result = make()
    urgent = replace(result.verdict, decision="urgent", headline="Touch nothing and call now.")
    house = replace(result.house, dangers=("burning_smell",))
    words = Page(render(replace(result, verdict=urgent, house=house))).words
    body = words[words.index("weighed") :]
    stop = urgent.next_steps[0].text
    assert body.index("Danger") < body.index("Touch nothing and call now.") < body.index(stop) < body.index("12 bills")
    assert "What to do next" not in body


def test_cautions_stand_before_their_step_and_as_large(make: Make) -> None:
    page = render(make())
    for step in make().verdict.next_steps:
        for caution in step.cautions:
            assert page.index(caution) < page.index(step.text)
    rule = re.search(r"\.caution \{([^}]*)\}", page)
    assert rule
    assert "font-size" not in rule[1]


def test_a_caution_is_said_once_before_the_first_step_it_belongs_to(make: Make) -> None:
    result = make()
    cautions = ("Touch nothing.", "Stand back.")
    steps = (Step("One.", 1, cautions), Step("Two.", 1, cautions), Step("Three.", 1), Step("Four.", 1, cautions))
    words = Page(render(replace(result, verdict=replace(result.verdict, next_steps=steps)))).words
    top, steps_told = words.split("What to do next")
    assert steps_told.count("Touch nothing.") == 1
    assert steps_told.index("Touch nothing.") < steps_told.index("One.")
    assert top.index("Touch nothing.") < top.index("One.")  # what is to be done first is not told without either


def test_the_page_needs_nothing_else(make: Make) -> None:
    page = Page(render(make()))
    assert not {"script", "link", "iframe", "object"} & {tag for tag, _ in page.tags}
    for tag, name, value in page.values:
        assert not name.startswith("on")
        if name == "href":
            assert value == "#words"  # within the page
        if name in ("src", "srcset"):
            assert value.startswith("data:image/svg+xml;base64,"), (tag, name)
    assert "url(" not in render(make())
    assert "default-src 'none'" in render(make())


def test_every_figure_is_described(make: Make) -> None:
    page = Page(render(make()))
    alts = [value for tag, name, value in page.values if tag == "img" and name == "alt"]
    assert len(alts) == 7
    assert all(len(alt) > 30 for alt in alts)


def test_numbers_are_rounded_to_their_doubt_and_chances_said_in_words(make: Make) -> None:
    result = make()
    words = Page(render(result)).words.replace("\xa0", " ")
    assert result.causes[0].text in words
    row = next(row for row in result.rows if row.flag == "over")
    assert f"{round(row.excess_kwh, -1):+.0f} (+${row.excess_amount:.0f})" in words
    assert not re.search(r"\d\.\d{3,}", words)


@pytest.mark.parametrize(("periods", "loads"), [(1, 0), (1, 1), (3, 3), (60, 30)])
def test_few_and_many_make_a_whole_page(make: Make, periods: int, loads: int) -> None:
    result = make(periods, loads)
    words = Page(render(result)).words
    for share in result.loads if loads else ():  # where no list was given, none is shown
        assert share.load in words
    assert words.count("as usual") + words.count("▲ high") + words.count("▼ low") + words.count("not judged") >= periods


def test_the_same_answer_gives_the_same_page(make: Make) -> None:
    assert render(make()) == render(make())
    assert snippet(make()) == snippet(make())


def test_a_house_with_money_and_a_field_test_tells_both() -> None:
    house = read_house(Path(__file__).parents[2] / "sample_bills" / "fast_meter_checked")
    result = reconcile(house)
    page = Page(render(result))
    words = page.words.replace("\xa0", " ")
    assert result.money is not None
    assert result.money.bridge is not None
    assert result.field_test is not None
    assert bridge_sentence(result.money.bridge, Voice()) in words
    assert result.field_test.headline in words
    assert "18 bills were worked out from the tariff as typed: all agree to the cent." in words
    assert sum(tag == "img" for tag, _ in page.tags) == 8


def test_interval_data_are_tied_out_on_the_page() -> None:
    house = read_house(Path(__file__).parents[2] / "sample_bills" / "mistyped_bill")
    words = Page(render(reconcile(house))).words
    assert words.count("● agrees") == 13
    assert words.count("▲ does not agree") == 1


def test_texts_from_files_cannot_become_markup(hostile_answer: Reconciliation, plain_house: House) -> None:
    hostile, plain = hostile_answer, reconcile(plain_house)
    bad, good = Page(render(hostile)), Page(render(plain))
    assert bad.tags == good.tags
    assert "<script>alert(1)</script>" in bad.words
    assert "{{ 7 * 7 }}" in bad.words
    assert "\x1b" not in bad.words
    assert "\u202e" not in bad.words


def test_texts_from_files_cannot_become_markup_in_a_notebook(
    hostile_answer: Reconciliation, plain_house: House
) -> None:
    hostile, plain = hostile_answer, reconcile(plain_house)
    assert Page(snippet(hostile)).tags == Page(snippet(plain)).tags
    assert hostile._repr_html_() == snippet(hostile)


def test_pictures_hold_texts_from_files_as_text(hostile_answer: Reconciliation) -> None:
    import base64
    from xml.etree import ElementTree

    pages = {v for _, n, v in Page(render(hostile_answer)).values if n in ("src", "srcset")}
    assert len(pages) == 10
    for page in pages:
        root = ElementTree.fromstring(base64.b64decode(page.partition("base64,")[2]))
        assert not [
            node for node in root.iter() if node.tag.rpartition("}")[2] in ("script", "image", "foreignObject", "a")
        ]
