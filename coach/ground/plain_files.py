"""Reading files that are files: a pipe, a device or a folder in the place of one is refused at once."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

_KINDS = (
    (stat.S_ISFIFO, "a named pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


def odd_kind(path: Path) -> str | None:
    """What is at `path` if it is neither a file nor a folder, in words; None if it is one of them, or nothing.

    Raises:
        OSError: that can't be told.
    """
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return None
    return next((words for is_one, words in _KINDS if is_one(mode)), None)


def read_bytes(path: Path, most: int) -> bytes:
    """The first `most` bytes of a file.

    Raises:
        OSError: it can't be read, or isn't a file.
    """
    if kind := odd_kind(path):
        raise OSError(errno.EINVAL, f"it is {kind}, not a file", str(path))
    # Should a pipe come between, opening it doesn't wait.
    descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0))
    with os.fdopen(descriptor, "rb") as file:
        return file.read(most)
