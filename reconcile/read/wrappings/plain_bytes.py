"""The bytes of a file and the text in them, in whatever letters and packing it was saved."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from pathlib import Path

from reconcile.read.tables.gate import Gate

LARGEST_BYTES = 64_000_000
"""Largest file that is read (two years of one-minute readings are about 30 MB; a guard, common practice)."""
MOST_RATIO = 300
"""How many times its size a packed file of more than SMALL_PACKED may grow (a guard: readings pack to a twentieth)."""
SMALL_PACKED = 20_000_000
"""Bytes up to which a packed file may grow by any ratio (our choice: one value repeated for years packs to a
thousandth, and so much more memory for a moment hurts no computer)."""


def read_bytes(path: Path, file: str, gate: Gate, most: int = LARGEST_BYTES) -> bytes | None:
    """Return the bytes of a file; None, with a fault, where it cannot be read or has more than ``most`` bytes."""
    try:
        if not path.is_file():
            gate.fault("this is not a file", "Put a file in its place.", file=file)
            return None
        with path.open("rb") as stream:
            data = stream.read(min(path.stat().st_size, most) + 1)
    except OSError as error:
        gate.fault(
            f"the file cannot be read ({error.strerror or type(error).__name__})",
            "Check its permissions and that it is not open elsewhere.",
            file=file,
        )
        return None
    if len(data) > most:
        gate.fault(
            f"the file is larger than {most // 1_000_000} MB",
            "Split it, or take out columns.",
            file=file,
        )
        return None
    return data


BYTE_LATE = ("\u0a00".encode(), "\u0d00".encode(), "\u2c00".encode())
"""What the end of a line or a comma is in UTF-16 from where a byte is lost or added on: no letter of any download."""


def as_utf8(data: bytes, western: Callable[[], None] = lambda: None) -> bytes | None:
    r"""Return text bytes as UTF-8 without a byte order mark; None where they are no text.

    ``western`` is called where they are what Western spreadsheet programs write (cp1252).

    Examples
    --------
    >>> as_utf8("\ufeffkWh".encode("utf-16")), as_utf8(b"\xef\xbb\xbfkWh"), as_utf8(b"\xe4") == "\xe4".encode()
    (b'kWh', b'kWh', True)
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        data = data.decode("utf-16", "replace").lstrip("\ufeff").encode()
    elif b"\0" in data[:2000]:
        head = data[:2000]
        little, big = head[1::2].count(0), head[::2].count(0)
        if max(little, big) < 0.4 * len(head) / 2:
            return None
        data = data.decode("utf-16-le" if little > big else "utf-16-be", "replace").encode()
    data = data.removeprefix(b"\xef\xbb\xbf")
    if b"\0" in data:
        return None
    if data.isascii():
        return data
    if any(late in data for late in BYTE_LATE):
        return None
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        western()
        return data.decode("cp1252", "replace").encode()
    return data


def too_large(file: str, gate: Gate, largest: int) -> None:
    """Record that a file unpacks to more than it may."""
    gate.fault(
        f"it unpacks to more than {largest // 1_000_000} MB, or to more than readings could",
        "Unpack it, and split it if it is that large.",
        file=file,
    )


PACKED = b"\x1f\x8b"
"""What a file packed by gzip begins with (RFC 1952)."""


def gunzip(data: bytes, file: str, gate: Gate, largest: int = LARGEST_BYTES) -> bytes | None:
    """Return what a packed file holds; None, with a fault, where it is broken or grows too large."""
    most = min(largest, max(SMALL_PACKED, MOST_RATIO * len(data)))
    unpacked = bytearray()
    try:
        while data:  # a file may hold several members end to end
            stream = zlib.decompressobj(wbits=31)
            unpacked += stream.decompress(data, most + 1 - len(unpacked))
            if len(unpacked) > most:
                too_large(file, gate, largest)
                return None
            if not stream.eof:
                raise zlib.error("incomplete")
            data = stream.unused_data.lstrip(b"\0")
    except zlib.error:
        gate.fault("this archive is broken or incomplete", "Download it anew.", file=file)
        return None
    return bytes(unpacked)
