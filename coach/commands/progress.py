"""A progress bar for commands that may take long."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Say = Callable[[str, float], None]


@contextmanager
def progress_bar() -> Iterator[Say]:
    """What is to be told what is being done and how far it is, from 0 to 1; it is shown where a person sees it.

    It goes when the work is done.
    """
    if sys.stderr is None or not sys.stderr.isatty():
        yield _nobody
        return
    from rich.progress import Progress

    from coach.sheets.plan_page import printer

    with Progress(console=printer(to_stderr=True), transient=True) as shown:
        task = shown.add_task("", total=1.0)
        yield lambda what, far: shown.update(task, description=what, completed=far)


def _nobody(_: str, __: float) -> None:
    """Nobody is there to be told."""
