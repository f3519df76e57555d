"""The text of what word processors write: Rich Text, and Office Open XML (ECMA-376), tables with their columns."""

from __future__ import annotations

import html
import io
import re
import zipfile
import zlib

LARGEST_TEXT = 20_000_000
"""Bytes of a document's text, unpacked (a guard: a hundred bills of two pages are under two million)."""
RICH, PACKED_WORDS = b"{\\rtf", b"PK\x03\x04"
_WORDS = "word/document.xml"
_HIDDEN = re.compile(
    r"\{\\(?:\*|fonttbl|colortbl|stylesheet|info|pict|header|footer)(?:[^{}]|\{(?:[^{}]|\{[^{}]*\})*\})*\}"
)
_CONTROL = re.compile(
    r"\\'(?P<byte>[0-9a-fA-F]{2})|\\u(?P<code>-?\d+) ?\??|\\(?P<word>[a-zA-Z]+)-?\d* ?"
    r"|\\(?P<sign>[^a-zA-Z])|[{}]|\r?\n",
    re.DOTALL,
)
_BREAKS = {"par": "\n", "line": "\n", "row": "\n", "tab": "\t", "cell": "\t", "emdash": "-", "endash": "-"}
_PARTS = re.compile(r"<w:tab/>|<w:(?:br|cr)\b[^>]*/>|</w:(?P<end>p|tc|tr)>|<w:t(?:\s[^>]*)?>(?P<text>[^<]*)</w:t>")


def words_of(data: bytes) -> str | None:
    r"""Return the text of a document, cells of a table parted by tabs; None where the bytes are no such document.

    >>> words_of(rb"{\rtf1\ansi{\fonttbl\f0 Arial;}\f0 kWh\tab 812\par 7 f\'e9v\par}")
    'kWh\t812\n7 fév\n'
    """
    if data.startswith(RICH):
        return _rich(data.decode("cp1252", "replace"))
    if not data.startswith(PACKED_WORDS):
        return None
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if _WORDS not in archive.namelist() or archive.getinfo(_WORDS).file_size > LARGEST_TEXT:
                return None
            text = archive.read(_WORDS).decode("utf-8", "replace")
    except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError, OSError, ValueError):
        return None
    return None if "<!DOCTYPE" in text else _office(text)


def _rich(text: str) -> str:
    def plain(found: re.Match[str]) -> str:
        if found["byte"]:
            return bytes((int(found["byte"], 16),)).decode("cp1252", "replace")
        if found["code"]:
            return chr(int(found["code"]) % 65536)
        if found["sign"]:
            return {"\n": "\n", "\r": "\n", "~": " ", "-": "", "_": "-"}.get(found["sign"], found["sign"])
        return _BREAKS.get(found["word"] or "", "")

    return _CONTROL.sub(plain, _HIDDEN.sub("", text))


def _office(text: str) -> str:
    made: list[str] = []
    inside = 0
    for found in re.finditer(rf"<w:tbl>|</w:tbl>|{_PARTS.pattern}", text):
        if found[0] in ("<w:tbl>", "</w:tbl>"):
            inside += 1 if found[0] == "<w:tbl>" else -1
        elif found["text"] is not None:
            made.append(html.unescape(found["text"]))
        elif found["end"] == "tc":
            made[-1:] = [made[-1].rstrip(" ") if made else "", "\t"]
        elif found["end"] == "p":
            made.append(" " if inside else "\n")
        elif found["end"] == "tr":
            made.append("\n")
        else:
            made.append("\t" if found[0] == "<w:tab/>" else " " if inside else "\n")
    return re.sub(r" *\t", "\t", re.sub(r"\t\n", "\n", "".join(made)))
