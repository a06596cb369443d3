"""Without garbage collection for a while."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """No garbage collection within: what is loaded or read by then stays, and looking through it again and again is a
    tenth of what starting takes, and more of what reading a large file takes. The first screen turns it on."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
