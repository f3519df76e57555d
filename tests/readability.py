"""How hard a text is to read: Flesch and Kincaid's grade level.

Kincaid, Fishburne, Rogers, Chissom, "Derivation of new readability formulas for Navy enlisted personnel", Research
Branch Report 8-75, 1975 (from memory): 0.39 words a sentence + 11.8 syllables a word - 15.59. Syllables are Hunspell's
places of hyphenation (pyphen), which are fewer than the spoken ones, so vowel groups are counted too and the larger
number taken. A number, a unit or a date is one word of one syllable a figure at the most: nobody spells it.
"""

from __future__ import annotations

import re
from functools import cache

import pyphen

_SENTENCE = re.compile(r"(?<=[.!?])\s+")
_WORD = re.compile(r"[A-Za-z][A-Za-z'’-]*|\d[\d.,]*")
_VOWELS = re.compile(r"[aeiouy]+")


@cache
def _hyphens() -> pyphen.Pyphen:
    return pyphen.Pyphen(lang="en_US")


@cache
def syllables(word: str) -> int:
    """Return the syllables of a word; a number counts as one."""
    if word[0].isdigit():
        return 1
    bare = word.lower().replace("’", "").replace("'", "")
    silent = bare.endswith("e") and not bare.endswith("le") and len(_VOWELS.findall(bare)) > 1
    spoken = len(_VOWELS.findall(bare)) - silent
    return max(1, spoken, len(_hyphens().positions(bare)) + 1)


def grade(text: str) -> float:
    """Return the school grade (United States) at which a text is read with ease."""
    sentences = [part for part in _SENTENCE.split(text) if _WORD.search(part)]
    words = [word for part in sentences for word in _WORD.findall(part)]
    if not words:
        return 0.0
    return 0.39 * len(words) / len(sentences) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59
