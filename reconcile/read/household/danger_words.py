"""Words of danger in a household's own lines: a shock, a burning smell, a meter that is warm, sparks.

A narrow grammar of plain English: each word is put into one group, and a sign is a short run of groups, such as a place
and a sound with small words, and two unknown ones at the most, between them. What is denied, only feared or repaired is
told apart. What a note, the diary or a column of one's own tells so counts as the flag of the settings does.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from reconcile.errors import Fault
from reconcile.house import DANGERS
from reconcile.read.household.danger_rules import ANY_OF, APPLIANCE, BEHIND, BETWEEN, PHRASES, PLACE_IN, RULES, WORDS
from reconcile.read.tables.cells import Row, Table, or_list, plain_name, shown
from reconcile.read.tables.gate import Gate

LONGEST = 2000
"""Letters of a text that are looked through (a guard)."""
DENIED_WITHIN = 5
"""Words before a sign in which a ``no`` or ``not`` of the same clause denies it (our choice)."""

_MOST_BETWEEN = 8


class State(StrEnum):
    """What a line says of a sign: it is there, it was dealt with, or it may be one."""

    THERE = "there"
    OVER = "over"
    DOUBTFUL = "doubtful"


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign of danger in a line; ``name`` is one of :data:`reconcile.house.DANGERS`, None where it is doubtful."""

    name: str | None
    state: State


def signs_in(text: str) -> tuple[Sign, ...]:
    """Return the signs of danger that a line tells of, each once.

    Examples
    --------
    >>> [(sign.name, sign.state.value) for sign in signs_in("meter box buzzes and smells burnt")]
    [('burning_smell', 'there'), ('buzzing', 'there')]
    >>> signs_in("no burning smell; hot water heater replaced"), signs_in("shocked by the bill")
    ((), ())
    >>> signs_in("The outlet sparked. Electrician replaced it.")
    (Sign(name='sparks_or_scorching', state=<State.OVER: 'over'>),)
    """
    tokens = _tokens(text[:LONGEST])
    letters = "".join(letter for letter, _ in tokens)
    if not _TELLING.search(letters):
        return ()
    found: dict[str | None, set[State]] = {}
    for name, pattern in _patterns():
        for match in pattern.finditer(letters):
            if _is_said(tokens, letters, match.start(), match.end(), name):
                state = State.OVER if _is_over(tokens, letters, match.start(), match.end()) else State.THERE
                found.setdefault(name, set()).add(State.DOUBTFUL if name is None and state is State.THERE else state)
    doubt = {State.DOUBTFUL} & found.pop(None, set())
    told = [Sign(name, State.THERE if State.THERE in states else State.OVER) for name, states in found.items()]
    return tuple(told) or tuple(Sign(None, state) for state in doubt)


_GROUPS = list(dict.fromkeys((*PHRASES, *WORDS, "NONE")))
_LETTER = {group: chr(0x4E00 + at) for at, group in enumerate(_GROUPS)}
_GROUP_OF = {word: _LETTER[group] for group, words in reversed(WORDS.items()) for word in words.split()}
_PHRASE = re.compile("|".join(rf"(?P<{group}>\b(?:{words})\b)" for group, words in PHRASES.items()))
_IN_BRACKETS = re.compile(rf"\((?:the |my |our )?(?:{APPLIANCE}|{PLACE_IN}|[a-z]?[0-9 ]+)\)")
_WORD = re.compile(r"[a-z]+|[,;:().]")


def _any(*groups: str) -> str:
    """Return a class of the letters of some groups."""
    wide = [narrow for group in groups for narrow in ANY_OF.get(group, (group,))]
    return _any(*wide) if wide != [*groups] else "[" + "".join(_LETTER[group] for group in wide) + "]"


def _pattern(rule: str) -> re.Pattern[str]:
    small = _any(*BETWEEN.split())
    gap = f"(?:{small}{{0,{_MOST_BETWEEN}}}?(?:{_LETTER['NONE']}{small}{{0,3}}?){{0,2}}?)"
    end = f"(?=$|{_any(*BEHIND.split())})"
    parts = []
    for word in rule.split():
        bare = word.removesuffix("?")
        again = word[len(bare) :]
        parts.append({"gap": gap, "end": end}.get(word) or _any(bare) + again)
    return re.compile("".join(parts))


@cache
def _patterns() -> tuple[tuple[str | None, re.Pattern[str]], ...]:
    """Each sign with its pattern, made where the first line may tell of one."""
    return tuple((name, _pattern(rule)) for name, rule in RULES)


_TELLING = re.compile(
    _any(
        *("BUZZ", "HUM", "WARM", "SPARK", "SPARKS", "MARK", "BURNT", "SMELL", "SHOCK", "ZAP", "BRIGHT", "BRIGHTEN"),
        *("ESHOCK", "FELT", "BURNSMELL", "NEUTRAL", "CUT", "OFF_WALL", "TREE_ON", "WETGROUND", "POPPING", "DARK"),
        *("DIM", "WET", "LEAK", "WATER", "RAIN", "BROKEN", "LOOSE", "BARE", "HALF_OUT", "YELP", "JUMP_BACK", "BITE"),
        *(
            "BITES_ONE",
            "BURST",
            "BLEW",
            "DIED",
            "FLOOD",
            "REACHED",
            "UNDER",
            "SPRAY",
            "WILD_VOLTS",
            "OPEN_WIRES",
            "BUBBLED",
            "YELLOW",
        ),
    )
)
_NOT_FOUND = re.compile(
    f"{_any(*BETWEEN.split())}{{0,4}}?{_any('BREAK')}{_any('SMALL', 'NONE')}?"
    f"{_any('NONE_AT_ALL')}(?=$|{_any('BREAK', 'STOP')})"
)
_PLACE, _TOUCH = ({group for group in _GROUPS if _LETTER[group] in _any(name)} for name in ("PLACE", "TOUCH"))
_BREAKS = re.compile(_any("BREAK", "STOP", "AND"))
_DENIAL = re.compile(_any("NOT", "NONE_AT_ALL"))
_WAITS = re.compile(_any("LATER", "NOT", "NONE_AT_ALL", "FEARED"))
_ELECTRICAL = re.compile(_any("PANEL", "OUTLET", "SERVICE", "TOUCHED", "DEVICE", "BUZZ", "SMELL", "LIGHT", "LOOSE"))
_ARTICLES = ("the", "a", "an", "my", "our")


def _tokens(text: str) -> list[tuple[str, str]]:
    """Return each word with the letter of its group; a dash that stands alone, and a line's end, divide as a stop."""
    plain = re.sub(r"[\r\n!?]|(?<!\d)\.(?!\d)|(?<=\s)[-\u2013\u2014](?=\s)", " . ", text.casefold())
    plain = re.sub(r"['\u2019`]", " ", plain)
    plain = _IN_BRACKETS.sub(" ", plain)
    plain = re.sub(r"\s+", " ", plain)
    out: list[tuple[str, str]] = []
    at = 0
    for match in (*_PHRASE.finditer(plain), None):
        upto = len(plain) if match is None else match.start()
        out += [(_GROUP_OF.get(word, _LETTER["NONE"]), word) for word in _WORD.findall(plain[at:upto])]
        if match is not None:
            out.append((_LETTER[str(match.lastgroup)], match[0]))
            at = match.end()
    return out


def _is_said(tokens: list[tuple[str, str]], letters: str, start: int, end: int, name: str | None) -> bool:
    """Whether a run is said of the house: not denied, not feared, and not of a bill, a dinner or new lamps."""
    stop = _LETTER["STOP"]
    first = letters.rfind(stop, 0, start) + 1
    after = letters.find(stop, end)
    sentence = letters[first : len(letters) if after < 0 else after]
    clause = max((match.end() for match in _BREAKS.finditer(letters, first, start)), default=first)
    if _DENIAL.search(letters, max(clause, start - DENIED_WITHIN), start) or _LETTER["FEARED"] in letters[first:start]:
        return False
    if _NOT_FOUND.match(letters, end) or (name == "shock" and _LETTER["FENCER"] in sentence):
        return False  # looked for and not found; a fence that is meant to shock
    if name == "sparks_or_scorching" and _LETTER["SMELL"] in letters[start:end]:
        return False  # a burning smell at the meter is a sign of its own
    has = {group for group in (*WORDS, *PHRASES) if _LETTER[group] in sentence}
    if name == "shock":
        return "BILL" not in has or bool(has & _TOUCH)
    if name in ("burning_smell", "sparks_or_scorching"):
        return "FOOD" not in has or bool(has & _PLACE)
    return name != "lights_brighten_and_dim" or "NEW" not in has


def _is_over(tokens: list[tuple[str, str]], letters: str, start: int, end: int) -> bool:
    """Whether a line says that a sign was dealt with: repaired before it or behind it, and nothing still there."""
    if _LETTER["STILL"] in letters:
        return False
    fixed = _LETTER["FIXED"]
    clause = max((match.end() for match in _BREAKS.finditer(letters, 0, start)), default=0)
    before = letters.find(fixed, max(clause, start - DENIED_WITHIN), start)
    before = -1 if _BREAKS.search(letters, start, end) else before  # replaced the meter, and it buzzes
    places = [at for at in (before, *range(end, len(letters))) if at >= 0 and letters[at] == fixed]
    return any(not _WAITS.search(letters, max(at - 4, 0), at) and _of_it(tokens, letters, at) for at in places)


def _of_it(tokens: list[tuple[str, str]], letters: str, at: int) -> bool:
    """Whether what was repaired may be what the sign was at: ``fixed the fence`` is not."""
    following = [word for _, word in tokens[at + 1 : at + 2]]
    return following not in [[word] for word in _ARTICLES] or bool(_ELECTRICAL.search(letters, at, at + 6))


OWN_WORDS = ("note", "load", "kind")
"""Columns in which people write; beside them, every column that is not read."""
IS_DANGER = " is taken for a sign of danger. "
MAY_BE_DANGER = " may tell of a danger, and was not taken for one. "
"""What marks the notice of such a line, so that no answer hides it."""


def read_dangers(tables: Iterable[Table], denied: frozenset[str], gate: Gate) -> tuple[str, ...]:
    """Return the signs of danger that lines of some tables tell of, each line quoted in a notice.

    Parameters
    ----------
    denied : frozenset of str
        Signs that the settings say are not there, or are over.

    Returns
    -------
    tuple of str
        Names of :data:`reconcile.house.DANGERS`, in their order.
    """
    found: set[str] = set()
    for table in tables:
        for row, text in _lines(table):
            # a repair in the diary is one of what its line tells of
            repaired = plain_name(shown(row["kind"].value)) == "repair"
            signs = signs_in(f"{text}. repaired" if repaired else text)
            there = [sign.name for sign in signs if sign.name and sign.state is State.THERE]
            open_ones = [name for name in there if name not in denied]
            place = f'{table.place}, row {row.number}: "{shown(text)}"'
            if open_ones:
                found.update(open_ones)
                gate.notice(f"{place}{IS_DANGER}{_when_over(open_ones, gate)}")
            elif any(sign.state is State.DOUBTFUL for sign in signs):
                gate.notice(f"{place}{MAY_BE_DANGER}{_asked(gate)}")
            elif signs and not there:
                gate.notice(f"{place} tells of a danger that was dealt with.")
    return tuple(name for name in DANGERS if name in found)


def danger_first(names: tuple[str, ...], gate: Gate, file: str) -> None:
    """Put a danger before the faults of the files, which nobody should mend first."""
    said = [notice.partition(IS_DANGER)[0] for notice in gate.notices if IS_DANGER in notice]
    remedy = (
        "Stop: touch neither the meter nor the panel, and call the utility's emergency line or a licensed electrician "
        "now; with smoke or fire go out and call the fire service first. The files can wait."
    )
    what = "; ".join(said) or ", ".join(name.replace("_", " ") for name in names)
    key = None if said else "danger"
    gate.faults.insert(0, Fault(file, f"a sign of danger is written here ({what})", remedy, column=key))


def _lines(table: Table) -> Iterator[tuple[Row, str]]:
    read = {index: name for name, index in table.header.items()}
    for row in table.rows:
        for index, value in enumerate(row.values):
            if isinstance(value, str) and " " in value.strip() and read.get(index, "note") in OWN_WORDS:
                yield row, value.strip()


def _when_over(names: list[str], gate: Gate) -> str:
    """Say how to tell that a danger is over."""
    if gate.settings_in == "sheet":
        how = f"no beside {or_list([f'danger.{name}' for name in names]).replace(' or ', ' and ')} on the sheet house"
    elif gate.settings_in == "arguments":
        how = f"dangers={{{', '.join(f'{name!r}: False' for name in names)}}}"
    else:
        how = f"{or_list([f'{name} = false' for name in names]).replace(' or ', ' and ')} under [danger] in house.toml"
    return f"If it is over, write in the same line that it was repaired; if it is no danger, write {how}."


def _asked(gate: Gate) -> str:
    """Ask for the signs that would make a doubtful line one of danger."""
    where = {"sheet": "danger on the sheet house", "arguments": "dangers=..."}.get(gate.settings_in, "[danger]")
    signs = "anything is hot, sparks, buzzes or smells burnt, or if some lights grow brighter as others dim"
    return f"If {signs}, say so under {where}. With a smell of gas switch nothing, go out, and call the gas company."
