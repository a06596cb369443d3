"""What is printed is clean: names of files and batches as they can be shown, and as a shell takes them."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterable
from pathlib import Path

LONGEST_SHOWN = 200
"""Characters of a name or a path that are shown."""
_LONGEST_WORD = 400
_LONGEST_LINE = 4000
_LONG_WORD = re.compile(rf"\S{{{_LONGEST_WORD + 1},}}")
_SHELL = {"\n": "\\n", "\t": "\\t", "\r": "\\r", "\\": "\\\\", "'": "\\'"}


def printable(text: str) -> str:
    """`text` with whatever a terminal could take for a command, or that turns the direction, as an escape (`\\x1b`)."""
    if text.isprintable():
        return text
    return "".join(char if char.isprintable() else _escape(char) for char in text)


def shortened(text: str, most: int = LONGEST_SHOWN) -> str:
    """`text`, with its middle left out where it has more than so many characters."""
    if len(text) <= most:
        return text
    return f"{text[: most // 2]}…{text[len(text) - (most - most // 2 - 1) :]}"


def shown_path(path: Path | str) -> str:
    """A path or a name as a message shows it."""
    return shortened(printable(str(path)))


def clean_lines(text: str) -> str:
    """A message as it may be printed: its own lines stay, and nothing in them can do harm or goes on for ever."""
    if text.isprintable() and len(text) <= _LONGEST_WORD:
        return text
    lines = (
        _LONG_WORD.sub(lambda word: shortened(word[0], _LONGEST_WORD), printable(line)) for line in text.split("\n")
    )
    return "\n".join(shortened(line, _LONGEST_LINE) for line in lines)


def shell_word(text: Path | str) -> str:
    """`text` as one word of a command line, which can be shown and copied."""
    word = str(text)
    if word.isprintable():
        return shlex.quote(word)
    return "$'" + "".join(_SHELL.get(char) or (char if char.isprintable() else _escape(char)) for char in word) + "'"


def batch_option(name: str) -> str:
    """The option that names a batch, whatever its name begins with."""
    word = shell_word(name)
    return f"--batch={word}" if name.startswith("-") else f"--batch {word}"


def arguments(*words: Path | str) -> str:
    """Words of a command line that are no options, whatever they begin with."""
    quoted = " ".join(map(shell_word, words))
    return f"-- {quoted}" if any(str(word).startswith("-") for word in words) else quoted


def clean_all(texts: Iterable[str]) -> tuple[str, ...]:
    """Messages as they may be printed."""
    return tuple(map(clean_lines, texts))


def _escape(char: str) -> str:
    code = ord(char)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
