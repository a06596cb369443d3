"""What is done beside the screen, in threads of their own: the backup of the day, and the look for damage."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from functools import partial

from textual.app import App

from coach.record.disk.checking import damaged_batches
from coach.talk.context import Context


def back_up(app: App[None], context: Context) -> None:
    """Makes the record's backup of the day, unless there is one; only what went wrong is told."""
    app.run_worker(partial(_back_up, app, context), thread=True, group="backup", exit_on_error=False)


def _back_up(app: App[None], context: Context) -> None:
    if wrong := context.back_up():
        _tell(app, partial(app.notify, wrong, severity="warning", timeout=12, markup=False))


def look_for_damage(app: App[None], context: Context, told: Callable[[frozenset[int]], None]) -> None:
    """Holds every batch against its checksums, and tells which are damaged, if any is."""
    app.run_worker(partial(_look, app, context, told), thread=True, group="damage", exit_on_error=False)


def _look(app: App[None], context: Context, told: Callable[[frozenset[int]], None]) -> None:
    if found := frozenset(damaged_batches(context.store.file)):
        _tell(app, partial(told, found))


def _tell(app: App[None], told: Callable[[], None]) -> None:
    with suppress(RuntimeError):  # the person has left meanwhile
        app.call_from_thread(told)
