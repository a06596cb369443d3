"""Which batches of a record are damaged, by their checksums: looked at beside whatever else is done."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path

from coach.ground.errors import CoachError
from coach.record.disk.files import UNREADABLE, beside_the_store
from coach.record.disk.reader import Reader


def damaged_batches(file: Path) -> Iterator[int]:
    """The ids of the batches of which something isn't as it was written; from a connection of its own, so that it may
    be done in any thread. A record that can't be read at all gives none: opening it says so."""
    with suppress(*UNREADABLE, OSError, CoachError), closing(beside_the_store(file)) as connection:
        reader = Reader(connection, file)
        for row in reader.batches():
            connection.execute("BEGIN")  # so that what is read is of one moment
            try:
                for _ in reader.texts(row.id):
                    pass
            except CoachError:
                yield row.id
            finally:
                connection.execute("COMMIT")
