"""What the words of a line mean to the grammar of danger, slips of the pen mended."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from unicodedata import combining, normalize

SHORTEST = 4
"""Letters of a word in which a slip is mended, at the least (our choice)."""

_WORD = re.compile(r"[a-z]+|[,;:().]")
_SHORT = re.compile("^[^aeiou]*[aeiou][bdgklmnprt]$")


@cache
def _tables() -> dict[str, dict[str, str]]:
    text = files("reconcile.read.household").joinpath("danger.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def _runs() -> tuple[re.Pattern[str], tuple[frozenset[str], ...]]:
    """Return the pattern of the runs of words that mean as one, and what each of its groups means."""
    runs = _tables()["runs"]
    groups = ("|".join(re.split(r"\s{2,}|\n", patterns.strip())) for patterns in runs.values())
    pattern = "|".join(rf"(?P<p{at}>\b(?:{group})\b)" for at, group in enumerate(groups))
    return re.compile(pattern), tuple(frozenset(meanings.split()) - {"NOTHING"} for meanings in runs)


@cache
def things() -> frozenset[str]:
    """Return the meanings that are of things and beings."""
    return frozenset(_tables()["things"])


def read_words(text: str) -> Iterator[tuple[str, frozenset[str]]]:
    """Yield each word or known run of words with what it means.

    A dash that stands alone, and a line's end, divide as a stop.

    Examples
    --------
    >>> [(word, sorted(means)) for word, means in read_words("Buzing pannel!")]
    [('buzing', ['CURRENT', 'SOUND']), ('pannel', ['PANEL']), ('.', [])]
    """
    plain = re.sub(r"[\r\n!?]|(?<!\d)\.(?!\d)|(?<=\s)[-\u2013\u2014]+(?=\s)", " . ", text.casefold())
    plain = "".join(letter for letter in normalize("NFD", plain) if not combining(letter))
    plain = re.sub(r"[-/]", " ", re.sub(r"['\u2019`]", "", plain))
    plain = re.sub(r"\s+", " ", plain)
    runs, meanings = _runs()
    at = 0
    for match in (*runs.finditer(plain), None):
        upto = len(plain) if match is None else match.start()
        yield from ((word, _meaning(word)) for word in _WORD.findall(plain[at:upto]))
        if match is not None:
            yield match[0], meanings[int(str(match.lastgroup)[1:])]
            at = match.end()


def _meaning(word: str) -> frozenset[str]:
    means = _meanings()
    if word in means or len(word) < SHORTEST or word in _tables()["spelling"]["no_slips"].split():
        return means.get(word, frozenset())
    return means.get(_mended(word), frozenset())


@cache
def _meanings() -> dict[str, frozenset[str]]:
    """Return what each word means."""
    found: dict[str, set[str]] = {}
    made = (("things", _plural), ("senses", _forms), ("other_tongues", lambda word: {word}))
    for table, forms in made:
        for concept, roots in _tables()[table].items():
            for form in (form for root in roots.split() for form in forms(root)):
                found.setdefault(form, set()).add(concept)
    return {word: frozenset(concepts) for word, concepts in found.items()}


def _forms(root: str) -> set[str]:
    """Return a root with the endings of a verb or an adjective; ``=`` bars them."""
    if root.endswith("="):
        return {root[:-1]}
    stem = root[:-1] if root.endswith("e") else root + root[-1] if _SHORT.search(root) else root
    past = root[:-1] + "ied" if re.search("[^aeiou]y$", root) else stem + "ed"
    return {*_plural(root), past, *(stem + ending for ending in ("ing", "er", "y"))}


def _plural(noun: str) -> set[str]:
    """Return a noun and its plural."""
    if re.search("[^aeiou]y$", noun):
        return {noun, noun[:-1] + "ies"}
    return {noun, noun + ("es" if re.search("(?:s|x|z|ch|sh)$", noun) else "s")}


@cache
def _by_letter() -> dict[str, tuple[str, ...]]:
    """Return the words whose slips are mended, by their first letter."""
    found: dict[str, list[str]] = {}
    mended = set(_tables()["spelling"]["mended"].split())
    for word, means in _meanings().items():
        if means & mended and len(word) >= 3:
            found.setdefault(word[0], []).append(word)
    return {letter: tuple(words) for letter, words in found.items()}


@cache
def _mended(word: str) -> str:
    """Return the word of the vocabulary from which a word differs by one slip."""
    typed = word + "g" if word.endswith("in") else word
    return next((known for known in _by_letter().get(word[0], ()) if _one_slip(typed, known)), word)


def _one_slip(typed: str, known: str) -> bool:
    """Whether two words differ by doubled letters, two swapped, one lost or added, or one that sounds alike.

    Examples
    --------
    >>> _one_slip("recepticle", "receptacle"), _one_slip("sokcet", "socket"), _one_slip("match", "melt")
    (True, True, False)
    """
    if abs(len(typed) - len(known)) > 2:
        return False
    return _one_off(typed, known) or _one_off(_heard(typed), _heard(known))


def _one_off(typed: str, known: str) -> bool:
    if typed == known:
        return True
    size = len(known)
    start = next((i for i, (a, b) in enumerate(zip(typed, known, strict=False)) if a != b), min(len(typed), size))
    typed, known = typed[start:], known[start:]
    while typed and known and typed[-1] == known[-1]:
        typed, known = typed[:-1], known[:-1]
    if len(typed) == 2:
        return typed == known[::-1]
    slip = {typed, known}
    if "" in slip:
        return len(typed + known) == 1 and (size >= 7 or (size >= 5 and bool(slip & set("aeiouht"))))
    return len(typed) == len(known) == 1 and size >= 5 and (slip <= set("aeiouy") or slip <= set("cksz"))


def _heard(word: str) -> str:
    """Return a word without doubled letters, ``ck`` and ``x`` as they sound."""
    return re.sub(r"(.)\1+", r"\1", word).replace("ck", "k").replace("x", "ks")
