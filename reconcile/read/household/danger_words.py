"""Words of danger in a household's own lines: a shock, a burning smell, a meter that is warm, sparks.

A small vocabulary in place of phrases: each word means one thing or several, and a sign is something felt beside a
thing it may be felt of, in one clause or in the next that speaks of the same. What is denied, only feared or repaired
is told apart, and so is the heat, smell or noise of what is hot, smells or sounds by nature. What may be a sign, and
may not, is doubtful: one question asks about it. What a note, the diary or a column of one's own tells counts as the
flag of the settings does.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from enum import StrEnum

from reconcile.errors import Fault
from reconcile.house import DANGERS
from reconcile.read.household.danger_rules import (
    DENIED_BY,
    DOUBTS,
    HARMLESS_OF,
    LIVE_THINGS,
    QUESTIONS,
    SIGNS,
    UNLESS,
)
from reconcile.read.household.danger_spelling import read_words, things
from reconcile.read.tables.cells import Table, or_list, plain_name, shown
from reconcile.read.tables.gate import Gate
from reconcile.records import dataclass

LONGEST = 2000
"""Letters of a text that are looked through (a guard)."""
DENIED_WITHIN = 5
"""Words before a sign in which a ``no`` or ``not`` of the same clause denies it (our choice)."""
REACH = 12
"""Words between what is felt and the thing it is felt of, at the most (our choice)."""
OWNED_WITHIN = 4
"""Words before what is felt in which the thing that it is said of by nature stands (our choice)."""


class State(StrEnum):
    """What a line says of a sign: it is there, it was dealt with, or it may be one."""

    THERE = "there"
    OVER = "over"
    DOUBTFUL = "doubtful"


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign of danger in a line.

    ``name`` is one of :data:`reconcile.house.DANGERS`; where it is doubtful, what to ask about.
    """

    name: str
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
    line = _Line.of(text[:LONGEST])
    told = {name: _state(states) for name, states in line.found(_SIGNS).items()}
    doubts = {} if told else line.found(_DOUBTS)
    told |= {name: State.DOUBTFUL for name, states in doubts.items() if _state(states) is State.THERE}
    return tuple(Sign(name, state) for name, state in told.items())


def _state(states: set[State]) -> State:
    return State.THERE if State.THERE in states else State.OVER


@dataclass(frozen=True, slots=True)
class _Rule:
    """A sign: what is felt, and what else must be named; beside each whether that stands before, behind or anywhere."""

    name: str
    felt: frozenset[str]
    beside: tuple[tuple[str, frozenset[str]], ...]


def _rules(rows: Iterable[tuple[str, ...]]) -> tuple[_Rule, ...]:
    return tuple(
        _Rule(name, frozenset(felt.split()), tuple((part[0], frozenset(part.strip("<>~").split())) for part in beside))
        for name, felt, *beside in rows
    )


_SIGNS, _DOUBTS = _rules(SIGNS), _rules(DOUBTS)
_HARMLESS_OF = {sense: frozenset(things.split()) for sense, things in HARMLESS_OF.items()}
_LIVE = frozenset(LIVE_THINGS.split())
_PROTECTS = _LIVE | {"COVER", "FISH"}
_PARTS = frozenset(("BEING", "BODY", "TOUCHED", "COVER", "ACTS", "BOX", "SIDE"))
"""What a clause may name and still speak of the thing of the clause before it."""
_OF_PLACES = frozenset(("WET", "DARK", "BRIGHT"))
"""What is said of the next word only: the basement may flood up to the panel."""
_HOW = frozenset(("HEAT", "BRIGHT", "LOUD", "DIM"))
_PREPOSITIONS = frozenset(
    ("of", "in", "at", "by", "behind", "near", "from", "beside", "under", "over", "to", "for", "with", "on", "inside")
)
_ARTICLES = frozenset(
    ("the", "a", "an", "my", "our", "his", "her", "their", "this", "that", "some", "new", "old", "one")
)
_SMALL = _ARTICLES | {"of", "like", "smell"}
_ADJECTIVES = frozenset(("HEAT", "WET", "DARK", "BRIGHT"))
_STOP = frozenset(".")
_BREAK = frozenset((",", ";", ":", "(", ")", "and", "but", "so", "because", "since", "though", "then"))
_ITS = frozenset(("it", "its", "they", "this", "that", "also", "still", "now"))
_NOTHING = frozenset(("none", "nothing"))


@dataclass(frozen=True, slots=True)
class _Word:
    """A word, or a run of them, with what it means and where it stands."""

    text: str
    means: frozenset[str]
    sentence: int
    clause: int

    @property
    def divides(self) -> bool:
        return self.text in _BREAK or self.text in _STOP


@dataclass(frozen=True, slots=True)
class _Line:
    words: tuple[_Word, ...]

    @classmethod
    def of(cls, text: str) -> _Line:
        """Return a line with its words numbered by sentence and clause."""
        read = list(read_words(text))
        sentence = clause = 0
        out = []
        for at, (word, means) in enumerate(read):
            sentence += word in _STOP
            # "so hot that" goes on; "so we left" begins
            so_hot = word == "so" and at + 1 < len(read) and read[at + 1][1] & _HOW
            divided = at > 0 and read[at - 1][0] in _BREAK
            clause += (word in _BREAK and not so_hot and not divided) or word in _STOP
            out.append(_Word(word, means, sentence, clause))
        return cls(tuple(out))

    def found(self, rules: tuple[_Rule, ...]) -> dict[str, set[State]]:
        """Return each sign that is told of, with the states in which it is."""
        found: dict[str, set[State]] = {}
        for rule in rules:
            for at, word in enumerate(self.words):
                felt = word.means & rule.felt
                if felt and self._beside(at, rule) and not self._natural(at, felt) and not self._denied(at, rule.name):
                    found.setdefault(rule.name, set()).add(State.OVER if self._over(at) else State.THERE)
        return found

    def _beside(self, at: int, rule: _Rule) -> bool:
        """Whether all that must be named beside what is felt is named."""
        if not rule.beside:
            return True
        words = self.words
        seen = self._seen(at)
        where = {
            "<": [i for i in seen if i < at],
            ">": [i for i in seen if i > at],
            "~": [i for i, word in enumerate(words) if word.sentence == words[at].sentence],
        }
        return all(any(words[i].means & part for i in where.get(mark, seen)) for mark, part in rule.beside)

    def _seen(self, at: int) -> list[int]:
        """Return the places of what a word may be said of: its clause and the next; the two before where it names none.

        ``it overflowed and ran into the panel`` goes on to its thing, ``the breaker trips, and is hot`` comes from it.
        """
        words, clause = self.words, self.words[at].clause
        own = [i for i in range(max(at - REACH, 0), min(at + REACH + 1, len(words))) if words[i].clause == clause]
        sentence = words[at].sentence
        end = min(at + REACH, len(words))
        own += [i for i in range(at, end) if words[i].clause == clause + 1 and words[i].sentence == sentence]
        own.remove(at)
        if any(words[i].means & things() and not words[i].means <= _PARTS for i in own if i < at):
            return own
        before = [i for i in range(at) if clause - words[i].clause in (1, 2)]
        first = next(word.text for word in words if word.sentence == sentence and word.text not in _STOP)
        # another sentence is gone on from only by a word for its thing: "The outlet sparks. It is hot."
        return own + [i for i in before if words[i].sentence == sentence or first in _ITS]

    def _natural(self, at: int, felt: frozenset[str]) -> bool:
        """Whether it is said of what is hot, smells or sounds by nature: ``hot days``, ``the oven is hot``."""
        natural: frozenset[str] = frozenset().union(*(_HARMLESS_OF.get(sense, frozenset()) for sense in felt))
        behind = self._named_behind(at + 1, _SMALL - _ARTICLES if felt & _ADJECTIVES else _SMALL)
        if behind & (natural - {"BODY"}) and not behind & _PROTECTS:
            return True
        before = frozenset() if felt & _OF_PLACES else self._named_before(at)
        return bool(before & natural) and not before & _PROTECTS

    def _named_behind(self, at: int, small: frozenset[str]) -> frozenset[str]:
        """Return what the nouns behind a place mean, with no more than small words between."""
        words = self.words
        while at < len(words) and words[at].text in small:
            at += 1
        named: frozenset[str] = frozenset()
        while at < len(words) and words[at].means & things():
            named |= words[at].means
            at += 1
        return named

    def _named_before(self, at: int) -> frozenset[str]:
        """Return what the nearest nouns before a place mean, those behind a preposition left out."""
        words = self.words
        last = at - 1
        while last >= max(at - OWNED_WITHIN, 0) and not words[last].divides:
            if not words[last].means & things():
                last -= 1
                continue
            first = last
            while first > 0 and words[first - 1].means & things():
                first -= 1
            lead = first - 1
            while lead >= 0 and words[lead].text in _ARTICLES:
                lead -= 1
            if lead < 0 or words[lead].text not in _PREPOSITIONS:
                return frozenset().union(*(word.means for word in words[first : last + 1]))
            last = lead - 1
        return frozenset()

    def _denied(self, at: int, name: str) -> bool:
        """Whether a sign is denied, only feared, or said of a bill, a dinner or new lamps."""
        words, here = self.words, self.words[at]
        before = [word for word in words[:at] if word.clause == here.clause]
        if any("NOT" in word.means for word in before[-DENIED_WITHIN:]) and not any(
            "STOPPED" in word.means for word in before
        ):
            return True
        if self._none_behind(at) or any(self._feared(i, at) for i in range(at) if words[i].sentence == here.sentence):
            return True
        said = frozenset().union(*(word.means for word in words if word.sentence == here.sentence))
        if name == "sparks_or_scorching" and "BURN" in here.means and "SMELL" in said:
            return True  # a burning smell is a sign of its own
        if said & frozenset(DENIED_BY.get(name, "").split()):
            seen = [words[i] for i in self._seen(at) if words[i].clause <= here.clause]
            own = frozenset().union(*(word.means for word in seen if word.sentence == here.sentence))
            return not own & frozenset(UNLESS.get(name, "").split())
        return "DOWN" in here.means and "OUTAGE" in said

    def _none_behind(self, at: int) -> bool:
        """Whether a sign was looked for and not found: ``checked for heat, none``."""
        words = self.words
        if words[at + 1 : at + 2] and words[at + 1].text == "none":
            return True
        return any(
            words[i].text in _NOTHING
            and (words[i - 1].divides or words[i - 1].text in ("found", "saw", "heard"))
            and (i + 1 == len(words) or words[i + 1].divides or words[i + 1].text == "found")
            for i in range(at + 1, min(at + 9, len(words)))
        )

    def _feared(self, i: int, at: int) -> bool:
        """Whether a word makes what follows only feared; ``if I touch it`` does not."""
        acts = self.words[i].text == "if" and any("ACTS" in word.means for word in self.words[i + 1 : min(i + 4, at)])
        return "FEARED" in self.words[i].means and not acts

    def _over(self, at: int) -> bool:
        """Whether a sign was dealt with: repaired before it or behind it, and nothing still there."""
        words = self.words
        if any("STILL" in word.means for word in words):
            return False
        before = [i for i in range(max(at - DENIED_WITHIN, 0), at) if words[i].clause == words[at].clause]
        return any(
            "FIXED" in words[i].means
            and not any(word.means & {"LATER", "NOT", "FEARED"} for word in words[max(i - 4, 0) : i])
            and self._of_it(i)
            for i in (*before, *range(at + 1, len(words)))
        )

    def _of_it(self, at: int) -> bool:
        """Whether what was repaired may be what the sign was at: ``fixed the fence`` is not."""
        following = self.words[at + 1 : at + 6]
        if not following or following[0].text not in _ARTICLES:
            return True
        return any(word.means & (_PROTECTS | {"TOUCHED", "APPLIANCE", "LIGHT", "SOUND", "SMELL"}) for word in following)


REPAIRED = ". repaired"
OWN_WORDS = ("note", "load", "kind")
"""Columns in which people write; beside them, every column that is not read."""
IS_DANGER = " is taken for a sign of danger. "
MAY_BE_DANGER = " may tell of a danger, and was not taken for one. "
"""What marks the notice of such a line, so that no answer hides it."""


def read_dangers(said: Iterable[tuple[str, str]], denied: frozenset[str], gate: Gate) -> tuple[str, ...]:
    """Return the signs of danger that lines in people's own words tell of, each line quoted in a notice.

    Parameters
    ----------
    said : iterable of (str, str)
        The place of each line, and the line.
    denied : frozenset of str
        Signs that the settings say are not there, or are over.

    Returns
    -------
    tuple of str
        Names of :data:`reconcile.house.DANGERS`, in their order.
    """
    found: set[str] = set()
    for where, text in said:
        signs = signs_in(text)
        there = [sign.name for sign in signs if sign.state is State.THERE]
        open_ones = [name for name in there if name not in denied]
        place = f'{where}: "{shown(text.removesuffix(REPAIRED))}"'
        if open_ones:
            found.update(open_ones)
            gate.notice(f"{place}{IS_DANGER}{_when_over(open_ones, gate)}")
        elif doubts := [sign.name for sign in signs if sign.state is State.DOUBTFUL]:
            gate.notice(f"{place}{MAY_BE_DANGER}{_asked(doubts[0], gate)}")
        elif signs and not there:
            gate.notice(f"{place} tells of a danger that was dealt with.")
    return tuple(name for name in DANGERS if name in found)


def said_in(tables: Iterable[Table]) -> Iterator[tuple[str, str]]:
    """Yield the place and the text of what people wrote in their own words into tables.

    A repair in the diary is one of what its line tells of.
    """
    for table in tables:
        read = {index: name for name, index in table.header.items()}
        for row in table.rows:
            repaired = REPAIRED if plain_name(shown(row.value("kind"))) == "repair" else ""
            for index, value in enumerate(row.values):
                column = read.get(index, "note")
                if isinstance(value, str) and column in OWN_WORDS and (column == "note" or " " in value.strip()):
                    yield f"{table.place}, row {row.number}", f"{value.strip()}{repaired}"
        for row in table.aside:
            for value in row.values:
                if isinstance(value, str) and " " in value.strip():
                    yield f"{table.place}, row {row.number}", value.strip()


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


def _when_over(names: list[str], gate: Gate) -> str:
    """Say how to tell that a danger is over."""
    if gate.settings_in == "sheet":
        how = f"no beside {or_list([f'danger.{name}' for name in names]).replace(' or ', ' and ')} on the sheet house"
    elif gate.settings_in == "arguments":
        how = f"dangers={{{', '.join(f'{name!r}: False' for name in names)}}}"
    else:
        how = f"{or_list([f'{name} = false' for name in names]).replace(' or ', ' and ')} under [danger] in house.toml"
    return f"If it is over, write in the same line that it was repaired; if it is no danger, write {how}."


def _asked(doubt: str, gate: Gate) -> str:
    """Ask what would make a doubtful line one of danger, and say what to do until that is known."""
    where = {"sheet": "danger on the sheet house", "arguments": "dangers=..."}.get(gate.settings_in, "[danger]")
    return f"{QUESTIONS[doubt]} If so, say so under {where}."
