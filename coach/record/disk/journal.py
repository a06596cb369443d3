"""What stands in the record's journal (SQLite's write-ahead log), and what of it SQLite would leave out.

SQLite takes the log up to the first frame whose checksum is wrong, as if what comes after had never been written: right
after a power cut, wrong where one frame in the middle has rotted. So frames that come after a bad one, and complete a
transaction, are a sign of damage.

The format is that of "The Write-Ahead Log File Format" in SQLite's documentation: a header of 32 bytes (magic number,
version, page size, number, two salts, two checksums), then frames of 24 bytes (page number, size of the database after
a commit or 0, the salts again, two checksums) and a page each.
"""

from __future__ import annotations

import struct
import sys
from array import array
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from coach.record.disk.files import beside

_HEADER, _FRAME = 32, 24
_MAGIC = 0x377F0682  # its last bit says whether the checksums are over big-endian numbers
_PAGE_SIZES = frozenset(1 << power for power in range(9, 17))
USUAL_PAGE = 4096


@dataclass(frozen=True, slots=True)
class Journal:
    """A journal as its bytes say.

    Attributes:
        page_size: in bytes.
        frames: those of the present generation, in order: page number, whether it completes a transaction, and where
            its page begins.
        lost: how many transactions SQLite would leave out since a frame before their ends is damaged.
    """

    raw: bytes
    page_size: int
    frames: tuple[tuple[int, bool, int], ...]
    lost: int

    def pages(self) -> Mapping[int, bytes]:
        """The latest state of each page by its number, whatever the checksums say."""
        return {page: self.raw[at : at + self.page_size] for page, _, at in self.frames}


def journal_of(file: Path) -> Journal | None:
    """The journal beside the record's file; None if there is none or nothing in it.

    Raises:
        OSError: it can't be read.
    """
    try:
        raw = beside(file, "-wal").read_bytes()
    except FileNotFoundError:
        return None
    return read_journal(raw) if len(raw) > _HEADER + _FRAME else None


def read_journal(raw: bytes) -> Journal | None:
    """The journal whose bytes `raw` are; None if there is no frame in it."""
    magic, _, page_size, *_ = struct.unpack_from(">8I", raw)
    before = struct.unpack_from(">2I", raw, _HEADER - 8)
    big = bool(magic & 1) if magic | 1 == _MAGIC | 1 else sys.byteorder == "big"
    sound = magic | 1 == _MAGIC | 1 and page_size in _PAGE_SIZES
    sound = sound and _summed(raw[: _HEADER - 8], (0, 0), big=big) == before
    if page_size not in _PAGE_SIZES:
        page_size = USUAL_PAGE
    step = _FRAME + page_size
    starts = range(_HEADER, len(raw) - step + 1, step)
    salts = raw[16:24] if sound else raw[_HEADER + 8 : _HEADER + 16]
    last = max((at for at in starts if raw[at + 8 : at + 16] == salts), default=0)
    frames: list[tuple[int, bool, int]] = []
    lost = 0
    for at in range(_HEADER, last + 1, step):  # what follows is left from before the journal started over
        page, size_after = struct.unpack_from(">2I", raw, at)
        begin = at + _FRAME
        sums = _summed(raw[at : at + 8] + raw[begin : begin + page_size], before, big=big)
        before = struct.unpack_from(">2I", raw, at + 16)
        ours = raw[at + 8 : at + 16] == salts
        genuine = ours and page > 0 and sums == before  # seen from the frame before it, be that sound or not
        lost += not sound and genuine and size_after > 0
        sound = sound and genuine
        if ours:
            frames.append((page, size_after > 0, begin))
    return Journal(raw, page_size, tuple(frames), lost) if frames else None


def forced(file: Path, journal: Journal) -> None:
    """Writes the journal's pages into a copy of the record's file, the damaged ones as well; the journal goes."""
    with file.open("r+b" if file.exists() else "w+b") as target:
        for page, content in journal.pages().items():
            if 0 < page < 1 << 24:
                target.seek((page - 1) * journal.page_size)
                target.write(content)
    beside(file, "-wal").unlink(missing_ok=True)


def _summed(data: bytes, sums: tuple[int, int], *, big: bool) -> tuple[int, int]:
    """SQLite's checksum over `data`, whose length is a multiple of 8, going on from `sums`."""
    words = array("I", data)
    if big != (sys.byteorder == "big"):
        words.byteswap()
    first, second = sums
    for index in range(0, len(words), 2):
        first = (first + words[index] + second) & 0xFFFFFFFF
        second = (second + words[index + 1] + first) & 0xFFFFFFFF
    return first, second
