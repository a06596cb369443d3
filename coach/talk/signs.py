"""Signs that a terminal without Unicode lacks, and what stands for them there."""

from __future__ import annotations

import os
from typing import TextIO

SPELLED = str.maketrans("“”’−…×", '""\'-.x')
"""The signs in our own words that ASCII lacks, each as one that it has, so that no line gets longer."""


def only_ascii(stream: TextIO) -> bool:
    """Whether what is written there can hold no signs but ASCII, as far as our own words are concerned.

    A locale of C or POSIX asks for that too, though Python writes UTF-8 all the same then.
    """
    asked = os.environ.get("LC_ALL") or os.environ.get("LANG")
    if asked in ("C", "POSIX"):
        return True
    encoding = (stream.encoding or "ascii").lower().replace("-", "").replace("_", "")
    return encoding not in {"utf8", "utf16", "utf32", "cp65001"}
