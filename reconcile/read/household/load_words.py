"""Loads as people write them down: counts, sizes and seasons in the name, kWh a month, hours in words, odd columns."""

from __future__ import annotations

import re
from typing import Any

from reconcile.loads.handbook import find
from reconcile.read.household.hour_words import (
    A_YEAR_HAS,
    HOURS,
    LONGEST_NAME,
    cycles_of_names,
    hours_of_names,
    plain_hours,
    times_a_year,
)
from reconcile.read.household.line_words import of_lines
from reconcile.read.household.load_columns import from_other_columns
from reconcile.read.tables.cells import Row, Table
from reconcile.read.tables.columns import LOADS
from reconcile.read.tables.gate import Gate
from reconcile.read.values.month_names import months_named, months_written
from reconcile.read.values.power_words import COUNTS, UNKNOWN, Size, is_of_light, size_of

_BEFORE = re.compile(r"(?:(\d{1,3})\s*(?:x|\N{MULTIPLICATION SIGN}|\*)\s+|(\d{1,2})\s+)(?=[^\W\d_])", re.IGNORECASE)
_TIMES_SIZE = re.compile(
    r"(?<![\w.])(\d{1,3})\s*(?:x|\N{MULTIPLICATION SIGN}|\*|@)\s*(?=\d[\d.,]*\s*(?:k?w|watts?)\b)", re.IGNORECASE
)
_COUNTED_LAST = re.compile(r"[^:]*[^\W\d_]{2}s\s*:?\s+(\d{1,2})\s*$")
_IN_BRACKETS = re.compile(r".*[^\W\d_]s\s*\((\d{1,2})\)\s*$", re.IGNORECASE)
_BEHIND = re.compile(r"\s*[\[(]?\s*(?:x|\N{MULTIPLICATION SIGN})\s*(\d{1,3})\s*[\])]?\s*$", re.IGNORECASE)
_EACH = re.compile(r"\b(?:each|apiece|per piece|a piece)\b\.?", re.IGNORECASE)
_UNITS_FIRST = re.compile(
    r"\d+\s+(?:w|watts?|kw|ton|tons|btu|hp|inch|in|gal|gallons?|l|liters?|cu|ft|amps?|a|v|volts?|person|speed|door|star|way)\b",
    re.IGNORECASE,
)
_SIZE = re.compile(
    r"(?<![\w./])((?:\d+(?:[.,]\d+)?\s*(?:-|to)\s*)?(?:\d\s*/\s*[2-8]|\.\d+|\d+(?:[.,]\d+)?)\s*"
    r"(?:k?w(?!\s*(?:/|per|a)\s*(?:ft|foot|m)\b)|watts?|tons?|k?btu(?:s|u)?(?:\s*/\s*h(?:r)?)?|hp))(?!\w)",
    re.IGNORECASE,
)
_KWH = re.compile(
    r"(?<![\w.])(\.\d+|\d[\d.,]*)\s*kwh\s*(?:/|per|pro|par|por|al|a|each)\s*"
    rf"({'|'.join(A_YEAR_HAS.values())})(?![\w-])",
    re.IGNORECASE,
)
_IDLE = r"(\d+(?:\.\d+)?)\s*w(?:atts?)?"
_STANDBY = rf"(?i)(?:,\s*)?(?:\bstand-?by\W{{0,3}}{_IDLE}|{_IDLE} (?:in |on )?stand-?by)\b"
_MILES = rf"(?i)(\d+)\s*(mi|miles|km)\s*(?:/|per|a|each)\s*({'|'.join(A_YEAR_HAS.values())})(?![\w-])"
KWH_A_MILE = 0.30
"""At the outlet, as the handbook has it of the electric car (3370 / MPGe: about 30 kWh for 100 miles)."""
KM_A_MILE = 1.609344
_EER = r"(?i)\bs?eer2?\W{0,2}(\d{1,2}(?:\.\d)?)\b"
_PER_LENGTH = r"(?i)(\d+(?:\.\d+)?)\s*w(?:atts?)?\s*(?:/|per|a)\s*(ft|foot|m|meter|metre)\b"
_LENGTH = r"(?i)(\d+(?:\.\d+)?)\s*(ft|feet|foot|m|meters?|metres?)\b"
_WITH_SEASON = r"(?i)(.*\d.*?)[\s,(]+(?:in |only )?((?!.*(?:day|night))[a-z]{3,}(?:\s*(?:-|to)\s*[a-z]{3,})?)\)?"
_A_YEAR = re.compile(r"(\d[\d.,\s]*)\s*kwh\s*(?:/|per|a)?\s*(?:yr|year|y|a|annum|jahr|an|a\u00f1o)\.?", re.IGNORECASE)
_TELLS = re.compile(
    r"watt|puissance|leistung|potencia|potenza|power|\bk?w\b|\bhours?\b|\bhrs?\b|\bh\b|heures|stunden|horas|\bore\b",
    re.IGNORECASE,
)
_HARMLESS = re.compile(r"total|kwh|wh/|cost|price|standby|per month|/month", re.IGNORECASE)

_NO_ENDING = re.compile(r"(?:of|for|spring|fall|may|mar|always|all|every|any)\b(?!\s*(?:-|to\b))", re.IGNORECASE)
"""Last words of a name that are rather its own: a water fall, a kiln of May."""


def in_columns(table: Table, gate: Gate, southern: bool = False) -> bool:
    """Bring what stands in other places into the columns of the loads; False where a column has to be asked about.

    Parameters
    ----------
    table : Table
        Changed in place.
    southern : bool
        Whether the house lies south of the equator, where winter is in the middle of the year.
    """
    from_other_columns(table)
    seasons = _seasons_of_hours(table)
    for at, row in enumerate(table.rows):
        table.rows[at] = plain_hours(_yearly(_count(row)))
    of_lines(table)
    _counts_of_names(table)
    _sizes(table, gate)
    _kwh_of_names(table)
    cycles_of_names(table, _add)
    _sizes_of_names(table)
    hours_of_names(table, _add)
    _months_of_words(table, southern, seasons)
    return _asked(table, gate)


def _filled(row: Row, column: str) -> bool:
    return not row.blank(column)


def _count(row: Row) -> Row:
    value = row.value("count")
    words = COUNTS.get(value.strip().casefold()) if isinstance(value, str) else None
    return row if words is None else row.with_value("count", words)


def _yearly(row: Row) -> Row:
    value = row.value("kwh_per_year")
    found = _A_YEAR.fullmatch(value.strip()) if isinstance(value, str) and len(value) <= LONGEST_NAME else None
    return row if found is None else row.with_value("kwh_per_year", found[1].strip())


def _seasons_of_hours(table: Table) -> dict[int, list[str]]:
    """Take a season off the hours it stands behind, ``2 h/day winter``, and return it by its row."""
    found: dict[int, list[str]] = {}
    for at, row in enumerate(table.rows):
        value = row.value("run_hours")
        short = isinstance(value, str) and len(value) <= LONGEST_NAME
        parted = re.fullmatch(_WITH_SEASON, str(value).strip()) if short else None
        if parted is not None and months_written(parted[2], southern=False):
            table.rows[at] = row.with_value("run_hours", parted[1].strip(" ,("))
            found[row.number] = [parted[2]]
    return found


def _counts_of_names(table: Table) -> None:
    """Take ``2 x fridge``, ``fridge x2`` and ``3 ceiling fans`` for a count, where none is written."""
    found: dict[int, int] = {}
    for row in table.rows:
        name = row.value("load")
        if not isinstance(name, str) or len(name) > LONGEST_NAME or _filled(row, "count"):
            continue
        if _UNITS_FIRST.match(name.strip()):
            continue
        bare = _EACH.sub("", HOURS.sub("", _SIZE.sub("", name))).strip(" ,-")
        match = (
            _TIMES_SIZE.search(name)
            or _BEFORE.match(name.strip())
            or _BEHIND.search(bare)
            or _IN_BRACKETS.match(bare)
            or _COUNTED_LAST.match(bare)
        )
        if (
            match
            and match.re is _BEFORE
            and match[1] is None
            and not re.search(r"(?<!ga)s$", HOURS.split(_SIZE.split(re.split(r"[,;(]", name)[0])[0])[0].strip(" -"))
        ):
            continue  # 4 burner stove: a bare number counts only what stands in the plural
        number = int(next(group for group in match.groups() if group)) if match else 0
        if 1 < number <= 200:
            found[row.number] = number
    _add(table, "count", found, "{} of the loads are counted by the number in their name")


def _sizes(table: Table, gate: Gate) -> None:
    """Bring sizes such as ``LED 9W``, ``2x60W`` and ``~200`` into the plain form, and tell of it."""
    told: dict[str, None] = {}
    guessed: dict[int, Any] = {}
    for at, row in enumerate(table.rows):
        value = row.value("watts")
        if not isinstance(value, str):
            continue
        if UNKNOWN.fullmatch(value.strip()):
            table.rows[at] = row.with_value("watts", None)
            continue
        size = size_of(value)
        if size is None:
            if is_of_light(value):
                gate.wrong(
                    row["watts"],
                    "this is the light of a bulb of so many watts, not what it draws",
                    "Write its own watts, as printed on it; an LED that stands for 60 W draws about 9 W.",
                )
                table.rows[at] = row.with_value("watts", None)
            continue
        text = _of_one(size, row, gate)
        table.rows[at] = row.with_value("watts", text)
        if size.guessed and row.blank("source"):
            guessed[row.number] = "guessed"
        told[f"{value.strip()} is {text}{', a guess' if size.guessed else ''}"] = None
    _add(table, "source", guessed, "")
    table.read_as += told


def _of_one(size: Size, row: Row, gate: Gate) -> str:
    """Return the size of one of those that are counted."""
    counted = row.value("count")
    count = float(counted) if str(counted).strip().replace(".", "", 1).isdigit() else 1.0
    times = size.times / count if size.together else size.times
    if size.times > 1.0 and count > 1.0:
        if count != size.times:
            gate.wrong(
                row["watts"],
                f"it tells of {size.times:g}, and {count:g} are counted",
                "Write the watts of one, and how many there are in the column count.",
            )
        times = 1.0
    number = re.match(r"[\d.,]*\d", size.text)
    if times == 1.0 or number is None:
        return size.text
    return f"{float(number[0].replace(',', '')) * times:.6g}{size.text[number.end() :]}"


def _months_of_words(table: Table, southern: bool, seasons: dict[int, list[str]]) -> None:
    """Take ``winter`` or ``May-Sep`` in a note or behind a name for the months, where none are written."""
    found: dict[int, str] = {}
    told: dict[str, None] = {}
    for at, row in enumerate(table.rows):
        if not isinstance(row.value("load"), str):
            continue
        name = row.value("load").strip()
        written = row.value("months")
        if isinstance(written, str) and _follows_weather(row) and _only_a_season(written):
            table.rows[at] = row.with_value("months", None)
            told[f"{name} runs as the weather asks, in whatever month ({written.strip()})"] = None
        if _filled(row, "months"):
            continue
        for text in (*_clauses(row.value("note")), *_endings(name), *seasons.get(row.number, ())):
            months = months_written(text, southern) if not re.search(r"\d", text) else None
            if months is not None and _follows_weather(row) and _only_a_season(text):
                told[f"{name} runs as the weather asks, in whatever month ({text})"] = None
                break
            if months is not None:
                found[row.number] = ",".join(map(str, sorted(months)))
                told[f"{name} runs in {months_named(months)}, by the words {text}"] = None
                break
    _add(table, "months", found, "")
    table.read_as += told


def _follows_weather(row: Row) -> bool:
    """Whether the weather says when a load runs: its hours are not written, and it heats or cools."""
    kind = next(iter(find(str(row.value("load")))), None)
    said = LOADS["follows"].code(str(row.value("follows"))) if _filled(row, "follows") else None
    return not _filled(row, "run_hours") and (said or (kind.follows if kind is not None else "")) in (
        "heating",
        "cooling",
    )


def _only_a_season(text: str) -> bool:
    """Whether a text tells months by the name of a season alone."""
    return months_written(text, southern=False) is not None and months_written(text) is None


def _clauses(note: Any) -> list[str]:
    """Return a note and its parts: ``old, winter only`` may tell the months in one of them."""
    if not isinstance(note, str) or len(note) > LONGEST_NAME:
        return []
    texts = [note, *re.split(r"[.;()]", note), *re.split(r"[.,;()]", note)]
    return [text.strip() for text in texts if text.strip()]


def _endings(name: str) -> list[str]:
    """Return what may tell the months in a name: brackets, what follows a dash or a comma, the last words."""
    if len(name) > LONGEST_NAME:
        return []
    apart = [*re.findall(r"[(\[]([^()\[\]]+)[)\]]", name), *re.split(r"\s+[-\N{EN DASH}]\s*|[,:]\s*", name)[1:]]
    words = name.split()
    last = [" ".join(words[at:]) for at in range(max(len(words) - 4, 1), len(words))]
    return [
        *apart,
        *(text for text in last if not _NO_ENDING.match(text)),
    ]


def _kwh_of_names(table: Table) -> None:
    """Take the energy in a name, as ``fridge 1.2 kWh/day``, for its label, where nothing else tells what it draws."""
    found: dict[int, str] = {}
    for row in table.rows:
        name = row.value("load")
        told = any(_filled(row, column) for column in ("watts", "kwh_per_year", "kwh_per_cycle"))
        energies = _KWH.findall(name) if isinstance(name, str) and len(name) <= LONGEST_NAME and not told else []
        if len(energies) == 1:
            figure, per = energies[0]
            times = times_a_year(per) or 1.0
            plain = re.fullmatch(r"\d*(?:[.,]\d{1,2})?", figure)
            if times == 1.0:
                found[row.number] = figure
            elif plain is not None:
                found[row.number] = f"{float(figure.replace(',', '.')) * times:.6g}"
        elif isinstance(name, str) and not told and (driven := re.search(_MILES, name[:LONGEST_NAME])) is not None:
            miles = int(driven[1]) / (KM_A_MILE if driven[2].casefold() == "km" else 1.0)
            if any(kind.load == "electric car" for kind in find(name)[:1]):
                found[row.number] = f"{miles * KWH_A_MILE * (times_a_year(driven[3]) or 1.0):.6g}"
    _add(table, "kwh_per_year", found, "kWh from the name: {} of the loads")


def _sizes_of_names(table: Table) -> None:
    """Take the size in a name, as ``AC 3 ton``, for its watts, where nothing else tells what it draws."""
    found: dict[int, str] = {}
    eer: dict[int, str] = {}
    idle: dict[int, str] = {}
    for row in table.rows:
        name = row.value("load")
        told = any(_filled(row, column) for column in ("watts", "kwh_per_year", "kwh_per_cycle"))
        if not isinstance(name, str) or told or is_of_light(name):
            continue
        bare = _TIMES_SIZE.sub(" ", name)
        if (standby := re.search(_STANDBY, bare)) is not None and row.blank("standby_watts"):
            idle[row.number] = standby[1] or standby[2]
        sizes = _SIZE.findall(re.sub(_STANDBY, " ", bare))
        if (along := _of_length(bare)) is not None:
            found[row.number] = f"{along:g} W"
        elif len(sizes) == 1:
            plain = size_of(sizes[0])
            found[row.number] = sizes[0] if plain is None else plain.text
            rated = re.search(_EER, bare)
            if rated is not None and re.search("btu|ton", sizes[0], re.IGNORECASE) and row.blank("eer"):
                eer[row.number] = rated[1]
    _add(table, "watts", found, "size from the name: {} of the loads")
    _add(table, "eer", eer, "EER from the name: {} of the loads")
    _add(table, "standby_watts", idle, "standby from the name: {} of the loads")


def _of_length(name: str) -> float | None:
    """Return the watts of a cable by its watts a foot and its feet."""
    a_length = re.search(_PER_LENGTH, name)
    if a_length is None:
        return None
    lengths = re.findall(_LENGTH, re.sub(_PER_LENGTH, " ", name))
    same = [length for length, unit in lengths if unit[0].casefold() == a_length[2][0].casefold()]
    return float(a_length[1]) * float(same[0]) if len(same) == 1 else None


def _add(table: Table, column: str, found: dict[int, Any], told: str) -> None:
    if not found:
        return
    table.fill(column, found)
    if told:
        table.read_as.append(told.format(len(found)))


def _asked(table: Table, gate: Gate) -> bool:
    """Ask about a column of watts or hours that is not understood: the handbook must not replace what it says."""
    wanted = {"watts": ("watts", "kwh_per_year", "kwh_per_cycle"), "run_hours": ("run_hours", "follows")}
    if not table.has("load"):
        return True
    for name in table.unread:
        if not _TELLS.search(name) or _HARMLESS.search(name):
            continue
        hours = re.search(r"hour|hrs?\b|heures|stunden|horas|\bore\b|\bh\b", name, re.IGNORECASE)
        column = "run_hours" if hours else "watts"
        if any(table.has(one) for one in wanted[column]):
            continue
        gate.fault_in(
            table,
            f"the column {name} is not known; nothing else says {'how long they run' if hours else 'what they draw'}",
            f"If it holds {'hours a day' if hours else 'the watts of one'}, head it {column}; else begin its name with "
            "the word other.",
            row=table.header_row,
            column=name,
        )
        return False
    return True
