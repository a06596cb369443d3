"""Rows taken from the pages of a damaged record one by one, where the tree that leads to them is broken.

A page of a table holds whole rows, so each can be read by itself, be it in the file or in the journal. Whether a row
was ever written is for its checksum to say. The format is that of "Database File Format" in SQLite's documentation:
sections 1.6 (pages of a b-tree, and payload that overflows) and 2.1 (a row's header and values).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from coach.record.disk.journal import USUAL_PAGE, Journal

_LEAF = 0x0D  # of a table
_FILE_HEADER = 100  # before the first page's own
_LONGEST_ROW = 64_000_000
_INTEGERS = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}

Carved = tuple[int, list[Any]]
"""A row: its id, and its values but for the id, which the file keeps apart."""


def rows_in(file: Path, journal: Journal | None) -> Iterator[Carved]:
    """Every row that a page of a table in the file, or in its journal, still holds; of whichever table."""
    raw = file.read_bytes() if file.exists() else b""
    size = USUAL_PAGE if journal is None else journal.page_size
    pages = {at // size + 1: raw[at : at + size] for at in range(0, len(raw), size)}
    images = list(pages.items())
    if journal is not None:
        images += [(page, journal.raw[at : at + size]) for page, _, at in journal.frames]
        pages |= journal.pages()
    for number, page in images:
        if len(page) == size:
            yield from _rows_of(number, page, pages, size)


def _rows_of(number: int, page: bytes, pages: Mapping[int, bytes], size: int) -> Iterator[Carved]:
    start = _FILE_HEADER if number == 1 else 0
    if page[start] != _LEAF:
        return
    count = int.from_bytes(page[start + 3 : start + 5], "big")
    for cell in range(min(count, size // 4)):
        pointer = start + 8 + 2 * cell
        at = int.from_bytes(page[pointer : pointer + 2], "big")
        try:
            yield _row(page, at, pages, size)
        except (IndexError, ValueError):
            continue


def _row(page: bytes, at: int, pages: Mapping[int, bytes], size: int) -> Carved:
    length, at = _number(page, at)
    row, at = _number(page, at)
    if not 0 < length < _LONGEST_ROW:
        raise ValueError("no length")
    most_here = size - 35
    if length <= most_here:
        payload = page[at : at + length]
    else:
        least = (size - 12) * 32 // 255 - 23
        here = least + (length - least) % (size - 4)
        here = here if here <= most_here else least
        following = int.from_bytes(page[at + here : at + here + 4], "big")
        payload = page[at : at + here] + _overflow(following, length - here, pages, size)
    if len(payload) != length:
        raise ValueError("cut short")
    return row, _values(payload)


def _overflow(page: int, length: int, pages: Mapping[int, bytes], size: int) -> bytes:
    found = bytearray()
    for _ in range(length // (size - 4) + 1):
        content = pages.get(page, b"")
        if len(content) != size:
            break
        found += content[4:]
        page = int.from_bytes(content[:4], "big")
    return bytes(found[:length])


def _values(payload: bytes) -> list[Any]:
    """The values of a row after the first, which is its id."""
    end, at = _number(payload, 0)
    if not 0 < end <= len(payload):
        raise ValueError("no header")
    kinds = []
    while at < end:
        kind, at = _number(payload, at)
        kinds.append(kind)
    values: list[Any] = []
    for kind in kinds:
        length = _INTEGERS.get(kind, 0) if kind < 12 else (kind - 12) // 2
        content = payload[at : at + length]
        if kind in (7, 10, 11) or len(content) != length:
            raise ValueError("no value of ours")
        if kind == 0:
            values.append(None)
        elif kind in (8, 9):
            values.append(kind - 8)
        elif kind < 12:
            values.append(int.from_bytes(content, "big", signed=True))
        else:
            values.append(content.decode() if kind % 2 else content)
        at += length
    return values[1:]


def _number(raw: bytes, at: int) -> tuple[int, int]:
    """A number of one to nine bytes, and where what follows begins."""
    found = 0
    for step in range(8):
        byte = raw[at + step]
        found = found << 7 | byte & 0x7F
        if byte < 0x80:
            return found, at + step + 1
    return found << 8 | raw[at + 8], at + 9
