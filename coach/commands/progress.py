"""A progress bar for commands that may take long."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from coach.record.progress import Progress, quiet


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """What is to be told what is being done and how far it is, from 0 to 1; it is shown where a person sees it.

    It goes when the work is done.
    """
    if sys.stderr is None or not sys.stderr.isatty():
        yield quiet
        return
    from rich import progress

    from coach.telling.plan.page import printer

    with progress.Progress(console=printer(to_stderr=True), transient=True) as shown:
        task = shown.add_task("", total=1.0)
        yield lambda what, far: shown.update(task, description=what, completed=far)
