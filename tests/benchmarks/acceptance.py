"""What an expert would accept, kind by kind: of the bills alone, and once the checks are entered.

The table is meant to be strict. A house whose meter is right is never to be told to test it; a fast meter
must end in a test; a load that runs round the clock must end in a search for it. Where a trouble is smaller
than what the program itself says these bills could have shown, *nothing seen* is an honest answer and is
accepted (``unseen``); where a trouble is the household's own or a timed load, *explained* is accepted only
when the right cause is named (``named``).

What is left strict though it may be argued, and is counted apart in the bench (:func:`told_it_could_hide`): a heater of
one winter and a meter out by 20 % or 30 % that are smaller than what the answer says these bills could have shown, with
the known load offered beside it. No expert would see more in such bills; but then the households are left with it. And
a house in order whose list is short by a third of its bills, for which *measure the list* is the truth of the list.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

DECISIONS = (
    "explained",
    "paperwork",
    "inventory",
    "outside-check",
    "field-test",
    "not-enough-data",
    "urgent",
)
ASKS_FOR_CHECKS = frozenset({"outside-check", "inventory"})
"""Decisions whose next steps a householder would follow and then enter: they lead to stage two."""
NAMED_AT_LEAST = 0.5


@dataclass(frozen=True)
class Answer:
    """What one method said of one house at one stage."""

    decision: str
    warranted: bool = False
    causes: tuple[tuple[str, float], ...] = ()
    findings: frozenset[str] = frozenset()
    visible_percent: float | None = None
    visible_watts: float | None = None
    fast: float | None = None
    """Chance told that the meter is fast."""
    offers_run: bool = False
    """Whether a known load through a plug-in meter is asked for or offered."""

    @property
    def tests(self) -> bool:
        """Whether it sends somebody to test the meter."""
        return self.warranted or self.decision == "field-test"


@dataclass(frozen=True)
class Accept:
    """Decisions accepted of the bills alone, and in the end."""

    first: frozenset[str]
    final: frozenset[str]
    unseen: bool = False
    named: frozenset[str] = frozenset()
    found: frozenset[str] = field(default_factory=frozenset)
    """Findings one of which must be told for ``explained`` to be accepted."""


def _of(first: str, final: str, **more: object) -> Accept:
    return Accept(frozenset(first.split()), frozenset(final.split()), **more)  # type: ignore[arg-type]


_FINE = _of("explained", "explained")
_OWN = _of("explained inventory outside-check", "explained inventory")
_FAST = _of("outside-check field-test", "field-test")
_LOAD = _of("outside-check", "outside-check inventory")

TABLE: dict[str, Accept] = {
    "healthy": _FINE,
    "healthy-exchange": _FINE,
    # a rise of habits and a round-the-clock load look alike in bills: looking costs nothing and harms nobody
    "occupant": _OWN,
    "fewer": _OWN,
    "left": _OWN,
    "thermostat": _OWN,
    "thermostat-back": _OWN,
    # a bill of its own: its reading is the cheapest thing to check, and nobody is sent outside
    "guests": _of("explained paperwork", "explained paperwork"),
    "spells": _FINE,
    "long-period": _of("explained paperwork", "explained paperwork"),
    "price-rise": _FINE,
    "vacation": _FINE,
    "estimate": _of("paperwork", "paperwork", found=frozenset({"estimated-read", "catch-up"})),
    "slip": _of("paperwork", "paperwork"),
    "meter-10-exchange": _of("outside-check field-test", "field-test", unseen=True),
    "meter-20-exchange": _FAST,
    "meter-50-exchange": _FAST,
    "meter-20": _FAST,
    "meter-50": _FAST,
    # nothing but the list speaks against a meter that was fast from the first bill
    "meter-30-always": _of("inventory outside-check field-test", "field-test"),
    "slow-new": _FAST,
    # the meter on the wall is right now; looking is reasonable, a test is not
    "slow-old": _of("explained paperwork inventory outside-check", "explained paperwork inventory"),
    "constant": _LOAD,
    "constant-exchange": _LOAD,
    "drift": _of("outside-check inventory", "outside-check inventory", unseen=True),
    "seasonal-heater": _of(
        "outside-check inventory",
        "outside-check inventory",
        named=frozenset({"timed-load", "heating-rise", "habit-step", "constant-load"}),
    ),
    "stuck": _of("explained inventory outside-check", "explained inventory outside-check"),
    "hot-tub": _of("outside-check inventory", "outside-check inventory", unseen=True),
    # bills fell and nobody complains; the list wants mending
    "listed-gone": _of("explained inventory outside-check", "explained inventory"),
    "leak-vacation": _LOAD,
    "hot-water-leak": _LOAD,
    # two bills of their own: their readings are the cheapest thing to check, and nobody is sent outside
    "two-empty": _of("explained paperwork", "explained paperwork"),
    "two-guests": _of("explained paperwork", "explained paperwork"),
    "guests-leak": _LOAD,
    "leak-exchange": _LOAD,
    "estimate-fast": _FAST,
}


def accepted(kind: str, first: Answer, final: Answer, *, size_percent: float, size_watts: float) -> bool:
    """Whether an expert would accept both answers; ``final`` is ``first`` where no checks were asked for."""
    rule = TABLE[kind]
    return _stage(rule, rule.first, first, size_percent, size_watts) and _stage(
        rule, rule.final, final, size_percent, size_watts
    )


def _stage(rule: Accept, allowed: frozenset[str], answer: Answer, size_percent: float, size_watts: float) -> bool:
    if answer.decision in allowed:
        return True
    if answer.decision != "explained":
        return False
    if rule.unseen and _could_not_see(answer, size_percent, size_watts):
        return True
    if rule.named and max((p for code, p in answer.causes if code in rule.named), default=0.0) >= NAMED_AT_LEAST:
        return True
    return bool(rule.found & answer.findings)


def _could_not_see(answer: Answer, size_percent: float, size_watts: float) -> bool:
    if size_watts > 0:
        return answer.visible_watts is not None and size_watts < answer.visible_watts
    return answer.visible_percent is not None and size_percent < answer.visible_percent


def told_it_could_hide(answer: Answer, size_percent: float, size_watts: float) -> bool:
    """Whether an answer that saw nothing said that so small a trouble could hide, and how to be sure of the meter."""
    if answer.decision != "explained" or not answer.offers_run or max(size_percent, size_watts) <= 0.0:
        return False
    return _could_not_see(answer, size_percent, size_watts)


def constant_strategies(kinds: Sequence[str]) -> dict[str, float]:
    """Share of kinds that each answer given always would get right: the bar must stand above all of them."""
    out = {}
    for decision in DECISIONS:
        answer = Answer(decision)
        right = [accepted(kind, answer, answer, size_percent=1e9, size_watts=1e9) for kind in kinds]
        out[f"always {decision}"] = sum(right) / len(right)
    nothing, look = Answer("explained"), Answer("outside-check")
    for name, first, final in (
        ("always outside-check, then nothing", look, nothing),
        ("always outside-check, then field-test", look, Answer("field-test")),
        ("always inventory, then nothing", Answer("inventory"), nothing),
    ):
        right = [accepted(kind, first, final, size_percent=1e9, size_watts=1e9) for kind in kinds]
        out[name] = sum(right) / len(right)
    return out
