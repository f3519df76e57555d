"""The household's diary."""

from __future__ import annotations

import re

from reconcile.house import Event, Load
from reconcile.read.household.meter_tests import registration_told, tells_of_a_test
from reconcile.read.tables.cells import Row, Table, shown
from reconcile.read.tables.columns import EVENTS
from reconcile.read.tables.gate import Gate
from reconcile.read.values.dates import is_like_a_day

KINDS = EVENTS["kind"].codes


def read_events(table: Table, gate: Gate, loads: tuple[Load, ...]) -> tuple[Event, ...]:
    """Read the diary in order of its days; a load it names should be one of ``loads``."""
    if not gate.readable(table, EVENTS):
        return ()
    _kinds_of_words(table)
    names = [load.name for load in loads]
    dated = [row for row in table.rows if not (table.of_lines and row.blank("date")) and not _no_day(row.value("date"))]
    for row in table.rows:
        if row not in dated:
            said = f"{shown(row.value('date') or '')} {shown(row.value('note') or row.value('kind'))}".strip()
            gate.notice(f'{table.place}, row {row.number}: "{said}" tells no day, and is left out: write its day.')
    found = [_event(row, gate, names) for row in dated]
    return tuple(sorted((e for e in found if e is not None), key=lambda e: (e.day, e.row or 0)))


def _no_day(value: object) -> bool:
    """Whether a text is no day at all: its line is left out and told, as the diary is not needed."""
    return isinstance(value, str) and bool(value.strip()) and not is_like_a_day(value)


_WORDS: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (kind, re.compile(rf"\b(?:{words})\b", re.IGNORECASE))
    for kind, words in (
        (
            "meter-exchange",
            r"(?:new|smart) meter|meter (?:was )?(?:changed|replaced|exchanged|swapped)|"
            r"(?:changed|replaced) (?:the )?meter|neuer (?:strom)?z\u00e4hler|nouveau compteur|nuevo contador|"
            r"nuovo contatore|nieuwe meter",
        ),
        (
            "price-plan",
            r"new (?:rate|plan|tariff)|rates? (?:went|changed?|increase)|(?:rate|price) (?:increase|change)|"
            r"switched plans?|time[- ]of[- ]use|(?:to|on) (?:tou|flat rate)",
        ),
        ("outage", r"outage|power (?:cut|failure|was out|went out|out)|black ?out"),
        (
            "occupants",
            r"moved? (?:in|out|back)|new baby|(?:baby|twins?|son|daughter) (?:was |were )?born|room ?mates?|tenants?|"
            r"lodgers?|boarders?|au pair|exchange student|newborn|(?:left|went|gone|off|leaves) (?:off )?(?:for|to) "
            r"(?:college|university|school|boarding school|the army|good)|(?:home|back) from (?:college|university)|"
            r"passed away|^died|(?:he|she|husband|wife|partner|mother|father|mom|dad|parents?|grand\w{2,8}|aunt|"
            r"uncle|sister|brother|tenant|room ?mate)(?:[ -]in[ -]law)?(?: has)? died|divorced?|"
            r"retired|laid off|works? from home|working from home|home ?schooling",
        ),
        (
            "away",
            r"vacation|holidays?|trip|travel(?:ed|ing)?|out of town|nobody home|away|urlaub|vacances|"
            r"vacaciones|vacanze|vakantie",
        ),
        (
            "guests",
            r"guests?|in-?laws|stay(?:ed|ing)|visit(?:s|ed|ing|ors?|as?|es)?|house ?guests?|besuch|"
            r"invit\u00e9s?|ospiti|bezoek",
        ),
        ("thermostat", r"thermostat|set ?point"),
        ("repair", r"repair(?:ed|s)?|fixed|serviced"),
        ("replaced", r"replaced"),
        ("removed-load", r"sold|removed|got rid of|threw (?:it |them )?(?:out|away)|scrapped|unplugged|gave away|gone"),
        (
            "new-load",
            r"bought|installed|new|added|got an?|arrived|delivered|neue[rsn]?|"
            r"nouve(?:au|lle)|nuev[oa]|nuov[oa]|nieuwe?",
        ),
    )
)
"""What a line of one's own words is about, the surest words first (our choice)."""


def _kinds_of_words(table: Table) -> None:
    """Tell the kind of a line from its own words, ``bought a chest freezer``, and keep them as its note."""
    notes: dict[int, str] = {}
    told = []
    for at, row in enumerate(table.rows):
        text = row.value("kind")
        own = isinstance(text, str) and (table.of_lines or len(text.split()) >= 2)
        if not own or EVENTS["kind"].code(text) is not None:
            continue
        kinds = ["meter-test"] if tells_of_a_test(text) else []
        kinds += [kind for kind, pattern in _WORDS if pattern.search(text)]
        kind = kinds[0] if kinds else "other"
        table.rows[at] = row.with_value("kind", kind)
        notes[row.number] = text.strip() if row.blank("note") else f"{text.strip()}; {row.value('note')}"
        told.append(f"{text.strip()[:40]} is {kind}")
    if notes:
        table.fill("note", notes)
        table.read_as += told


def _event(row: Row, gate: Gate, names: list[str]) -> Event | None:
    day, until = gate.day(row["date"], needed=True), gate.day(row["until"])
    if day is not None and until is not None and until < day:
        gate.wrong(row["until"], "this ends before it begins", "Check date and until.")
    kind = gate.choice(row["kind"], KINDS, needed=True, words=EVENTS["kind"])
    load = gate.text(row["load"])
    if load is not None:
        listed = gate.listed_load(row["load"], load, names)
        if listed is None:
            gate.notice(f"The diary names {load}, which is not in the list of loads.")
        load = listed or load
    note = gate.text(row["note"]) or ""
    percent = gate.number(row["percent"], low=1.0, high=1000.0, unit="percent")
    if kind == "meter-test" and percent is None:
        percent = registration_told(note)
        if percent is None:
            gate.notice(
                f"The diary tells of a test of the meter ({note or 'meter-test'}), and not what it showed: write what "
                "the meter registered of what was used, such as 100.2 % or 3 % fast."
            )
    return None if day is None or kind is None else Event(day, kind, until, load, note, row.number, percent)
