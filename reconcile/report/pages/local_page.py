"""The local page: the form in which a house is given, and the links above its answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace

from reconcile.house import DANGERS
from reconcile.records import dataclass
from reconcile.report.pages.templating import environment
from reconcile.texts import local_words as words
from reconcile.texts.danger_signs import DANGER

WEATHER_FIELDS = ("coldest_month_mean", "warmest_month_mean", "temperature_unit")
MORE_FIELDS = (
    *("name", "floor_area", "occupants", "heating_fuel", "water_heating_fuel"),
    *("timezone", "currency", "date_format", "dates", "generation"),
)


@dataclass(frozen=True, slots=True)
class Form:
    """What stands in the form.

    Attributes
    ----------
    typed, settings : mapping of str to str
        Texts and fields by their names.
    dangers : sequence of str
        Signs that are ticked.
    kept : str
        By what the files given before are found again.
    files : sequence of str
        Their slots and names, as ``bills/2024.csv``.
    problems : sequence of str
        What has to be put right.
    said : str
        What else is to be said.
    """

    typed: Mapping[str, str] = field(default_factory=dict)
    settings: Mapping[str, str] = field(default_factory=dict)
    dangers: Sequence[str] = ()
    kept: str = ""
    files: Sequence[str] = ()
    problems: Sequence[str] = ()
    said: str = ""


def form_html(form: Form) -> str:
    """Return the form as a page, with what was given before in it."""
    from markupsafe import escape  # what is so marked keeps its lines: other texts are cleaned of them

    count = len(form.problems)
    form = replace(form, typed={name: escape(text) for name, text in form.typed.items()})
    texts = (
        ("bills", words.BILLS, words.BILLS_HOW, escape(words.BILLS_EXAMPLE)),
        ("loads", words.LOADS, words.LOADS_HOW, escape(words.LOADS_EXAMPLE)),
        ("events", words.EVENTS, words.EVENTS_HOW, escape(words.EVENTS_EXAMPLE)),
    )
    page = environment().get_template("local.html")
    return page.render(
        form=form,
        words=words,
        signs=[(sign, DANGER[sign].sign) for sign in DANGERS],
        texts=texts,
        slots=("bills", "loads"),
        weather_fields=WEATHER_FIELDS,
        more_fields=MORE_FIELDS,
        by_fields=any("house.toml" in problem for problem in form.problems),
        more_filled=any(form.settings.get(name) for name in MORE_FIELDS)
        or any(f.startswith("other/") for f in form.files),
        problems_head=words.FAULTS["one" if count == 1 else "several"].format(count=count),
    )


def links_above(page: str, place: str) -> str:
    """Return the page of an answer with links above it: to change what was given, and to keep the answer.

    Parameters
    ----------
    page : str
        As :func:`reconcile.report.pages.html.render` makes it.
    place : str
        Where the answer stands: ``/answer/...``.
    """
    links = [("/" if name == "new" else f"{place}/{name}", text) for name, text in words.LINKS.items()]
    nav = environment().get_template("local_links.html").render(links=links)
    head, mark, rest = page.partition('<body>\n<main class="reconcile">\n')
    return head + mark + nav + rest
