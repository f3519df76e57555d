"""Rows of sums, averages and extremes, by the word before them: they are left out of every table."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

SUMMARY = re.compile(
    r"(?:(?:19|20)\d\d )?(?:grand |sub|sub |yearly |annual |year |overall |12[ -]month |"
    r"monthly |month |bill |billing |weekly |daily |my )?"
    r"(?:totals?|sums?|averages?|avg\.?|highest|lowest|largest|smallest|"
    r"mean|median|minimum|maximum|min|max|count|ytd|year[ -]to[ -]date|"
    r"summe|gesamt|insgesamt|mittelwert|durchschnitt|totale|totaal|somme|moyenne|promedio|media|totalt|summa)\b"
    r"[^\d]{0,16}(?:(?:19|20)\d\d)?",
    re.IGNORECASE,
)


def is_of_sums(values: Sequence[Any]) -> bool:
    """Whether a row is one of sums or averages, by the word before them: it is left out of every table."""
    texts = (value.strip() for value in values if isinstance(value, str) and value.strip())
    return any(len(text) <= 40 and SUMMARY.fullmatch(text) is not None for text in texts)
