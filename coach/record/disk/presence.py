"""Whether the record's files are still the ones that were opened: what is written into a file that has been deleted,
moved away or replaced is lost, though nothing says so."""

from __future__ import annotations

from pathlib import Path

from coach.ground.clean import shown_path
from coach.record.disk.files import beside

Identity = tuple[int, int]


class Presence:
    """The files of one open record, by device and inode.

    The journal comes with the first thing that is written, and stays as long as the record is open anywhere.
    """

    def __init__(self, file: Path) -> None:
        self._file = file
        self._journal = beside(file, "-wal")
        self._known = {file: _identity(file)}
        self.written()

    def written(self) -> None:
        """Something has just been written: the journal that is there now is the one."""
        if self._known.get(self._journal) is None:
            self._known[self._journal] = _identity(self._journal)

    def missing(self) -> str | None:
        """What has become of the files, in words; None if they are the ones that were opened."""
        for path, known in self._known.items():
            if known is None:
                continue
            now = _identity(path)
            if now is None:
                return f"{shown_path(path)} is no longer there"
            if now != known:
                return f"{shown_path(path)} is another file than the one that was opened"
        return None


def _identity(path: Path) -> Identity | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
