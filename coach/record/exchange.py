"""A batch as one file that describes itself: out of one record and into another."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from glob import escape
from pathlib import Path
from typing import Any, BinaryIO

from coach import __version__
from coach.ground.clean import arguments, batch_option, shown_path
from coach.ground.errors import CoachError
from coach.ground.names import clean_text
from coach.ground.plain_files import read_bytes
from coach.record.batch.events import tally_of
from coach.record.batch.proving import proven
from coach.record.batch.session import checked_name
from coach.record.disk.reader import Reader
from coach.record.disk.store import Store
from coach.record.json_text import shown, strict_json
from coach.record.moments import is_moment
from coach.record.progress import Progress, quiet
from coach.record.rows import BatchRow, Event

FORMAT = 1
KIND = "coach-batch"
MOST_BYTES = 256_000_000
_KEYS = ("format", "kind", "made_by", "batch", "started", "events")
_EVENT_KEYS = ("number", "at", "kind", "data")
_READ_WHOLE = 4_000_000  # characters; a larger file has to have an event a line, as it is written
_LONGEST_LINE = 2_000_000
_TOLD_EVERY = 2000
_OPENS, _CLOSES = '"events": [', "]}"
_MADE = "a batch as coach export writes it"
_TIME = "a time such as 2031-03-04T09:30:00.000-05:00"


def export_batch(store: Reader, row: BatchRow) -> Iterator[str]:
    """The lines of a file that holds the batch `row`, an event a line, each with its end.

    Raises:
        CoachError: the record can't be read.
    """
    head = {
        "format": FORMAT,
        "kind": KIND,
        "made_by": f"coach {__version__}",
        "batch": row.name,
        "started": row.started,
    }
    yield f"{_json(head)[:-1]}, {_OPENS}\n"
    before = ""
    for event in store.events(row.id):
        yield before + _json({"number": event.number, "at": event.at, "kind": event.kind, "data": event.data})
        before = ",\n"
    yield f"\n{_CLOSES}\n"


def write_new(file: Path, lines: Iterable[str]) -> None:
    """Writes a new file, whole or not at all.

    Raises:
        CoachError: there is a file of that name already, or it can't be written; then there is none.
    """
    if not file.name or file.is_dir():
        raise CoachError(f"{shown_path(file)}: this is a folder; expected the name of a new file; nothing was written")
    _refuse_existing(file)
    try:
        _clear_abandoned(file)
        try:
            _write_unnamed(file, lines)
        except _NamelessError:
            _write_part(file, lines)
        keep_names(file.parent)
    except FileExistsError:
        _refuse_existing(file)
    except OSError as error:
        raise CoachError(f"{shown_path(file)}: can't be written: {error.strerror}; nothing was written") from error


class _NamelessError(Exception):
    """The file system has no files without a name."""


def _write_unnamed(file: Path, lines: Iterable[str]) -> None:
    """Writes a file that gets its name once it is whole, so that a kill leaves nothing."""
    kind = getattr(os, "O_TMPFILE", None)
    try:
        if kind is None:
            raise _NamelessError
        descriptor = os.open(file.parent, kind | os.O_WRONLY, 0o666)
    except OSError as error:
        raise _NamelessError from error
    with os.fdopen(descriptor, "wb") as target:
        _write(target, lines)
        folder = os.open(file.parent, os.O_RDONLY)
        try:
            os.link(f"/proc/self/fd/{descriptor}", file, src_dir_fd=folder, follow_symlinks=True)
        except FileNotFoundError as error:  # no /proc
            raise _NamelessError from error
        finally:
            os.close(folder)


def _write_part(file: Path, lines: Iterable[str]) -> None:
    part = file.with_name(f".{file.name[:100]}.{os.getpid()}.part")
    try:
        with part.open("xb") as target:
            _write(target, lines)
        _refuse_existing(file)
        part.replace(file)
    finally:
        part.unlink(missing_ok=True)


def _clear_abandoned(file: Path) -> None:
    """Takes away what a process that was killed has left half written under this name."""
    for part in file.parent.glob(f".{escape(file.name[:100])}.*.part"):
        process = part.name.split(".")[-2]
        if process.isdecimal() and not _runs(int(process)):
            part.unlink(missing_ok=True)


def _runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def _refuse_existing(file: Path) -> None:
    if os.path.lexists(file):
        raise CoachError(f"{shown_path(file)}: there is such a file already; nothing was written. Choose another name")


def _write(target: BinaryIO, lines: Iterable[str]) -> None:
    target.writelines(line.encode() for line in lines)
    target.flush()
    os.fsync(target.fileno())


def keep_names(folder: Path) -> None:
    """Has the disk keep the names in a folder; some file systems refuse to be asked, and keep them anyway."""
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def import_batch(store: Store, source: Path | str, *, name: str | None, say: Progress = quiet) -> BatchRow:
    """Takes the batch of an exported file into the record; its events keep their numbers and times.

    Args:
        source: the file, or the text of one.
        name: what the batch is to be called here; None for the name that it has.
        say: told how far it is.

    Raises:
        CoachError: the file can't be read, is not what `export_batch` writes, or its events make no batch; the name is
            taken. Nothing was written.
    """
    called = shown_path(source) if isinstance(source, Path) else "the text"
    try:
        say("reading", 0.0)
        text = _read(source) if isinstance(source, Path) else source
        if len(text) > MOST_BYTES:
            raise CoachError(f"found {len(text)} characters; expected at most {MOST_BYTES}")
        head, events = _parsed(text, say)
        say("proving", 0.5)
        tally = tally_of(proven(events))
    except CoachError as error:
        raise error.at(called) from error
    wanted = checked_name(head["batch"] if name is None else name)
    if store.batch_named(wanted) is not None:
        other = batch_option(free_name(store, wanted))
        raise CoachError(
            f"{called}: a batch called “{wanted}” is in the record already; nothing was imported. "
            f"Give it another name:  coach import {other} {arguments(source)}"
        )
    say("writing", 0.75)
    return store.take_in(wanted, head["started"], events, tally)


def free_name(store: Store, name: str) -> str:
    """`name`, or the nearest to it that no batch has yet."""
    number, free = 1, name
    while store.batch_named(free) is not None:
        number += 1
        free = f"{name[:50].rstrip()} {number}"
    return free


def _read(file: Path) -> str:
    try:
        raw = read_bytes(file, MOST_BYTES + 1)
    except OSError as error:
        raise CoachError(f"can't be read: {error.strerror}; expected {_MADE}") from error
    if len(raw) > MOST_BYTES:
        raise CoachError(f"larger than {MOST_BYTES // 1_000_000} MB; expected {_MADE}")
    try:
        return raw.decode()
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise CoachError(f"line {line}: not UTF-8 text; expected {_MADE}") from error


def _parsed(text: str, say: Progress) -> tuple[dict[str, Any], list[Event]]:
    if len(text) > _READ_WHOLE:
        return _parsed_by_lines(text, say)
    found = _head(_json_of(text))
    if not isinstance(found["events"], list) or not found["events"]:
        raise CoachError(f"events: found {shown(found['events'])}; expected a list that isn't empty")
    return found, [_event(number, event) for number, event in enumerate(found["events"], 1)]


def _parsed_by_lines(text: str, say: Progress) -> tuple[dict[str, Any], list[Event]]:
    """As `_parsed`, of a large file: an event a line, as they are written, so that the first mistake ends it."""
    at, number, head = 0, 0, None
    events: list[Event] = []
    while True:
        end = text.find("\n", at, at + _LONGEST_LINE)
        number += 1
        if end < 0:
            raise CoachError(f"line {number}: too long, or the end is missing; expected {_MADE}, an event a line")
        line, at = text[at:end], end + 1
        if head is None:
            if not line.endswith(_OPENS):
                raise CoachError(f"line 1: it doesn't end with {_OPENS}; expected {_MADE}, an event a line")
            head = _head(_json_of(f"{line}]}}"))
        elif line == _CLOSES:
            break
        else:
            try:
                events.append(_event(number - 1, _json_of(line.removesuffix(","))))
            except CoachError as error:
                raise error.at(f"line {number}") from error
            if number % _TOLD_EVERY == 0:
                say("reading", 0.4 * at / len(text))
    if not events or text[at:].strip():
        raise CoachError(f"line {number}: expected {_MADE}, and nothing after it")
    return head, events


def _json_of(text: str) -> Any:
    try:
        return strict_json(text)
    except ValueError as error:
        raise CoachError(f"not JSON that can be kept: {error}; expected {_MADE}") from error


def _head(found: Any) -> dict[str, Any]:
    if not isinstance(found, dict) or found.get("kind") != KIND:
        kind = shown(found.get("kind")) if isinstance(found, dict) else shown(found)
        raise CoachError(f'kind: found {kind}; expected "{KIND}": {_MADE}')
    version = found.get("format")
    if type(version) is not int or version != FORMAT:
        newer = ": a newer coach wrote this" if type(version) is int and version > FORMAT else ""
        raise CoachError(f"format: found {shown(version)}; expected {FORMAT}{newer}")
    _expect_keys("the file", found, _KEYS)
    for key in ("made_by", "batch"):
        if not isinstance(found[key], str):
            raise CoachError(f"{key}: found {shown(found[key])}; expected a text")
    _expect_moment("started", found["started"])
    return found


def _event(number: int, found: object) -> Event:
    where = f"event {number}"
    if not isinstance(found, dict):
        raise CoachError(f"{where}: found {shown(found)}; expected a table of {', '.join(_EVENT_KEYS)}")
    _expect_keys(where, found, _EVENT_KEYS)
    if type(found["number"]) is not int or found["number"] != number:
        raise CoachError(f"{where}: number: found {shown(found['number'])}; expected {number}, without a gap from 1")
    _expect_moment(f"{where}: at", found["at"])
    if clean_text(found["kind"] if isinstance(found["kind"], str) else "") is not None:
        raise CoachError(f"{where}: kind: found {shown(found['kind'])}; expected a short text")
    if not isinstance(found["data"], dict):
        raise CoachError(f"{where}: data: found {shown(found['data'])}; expected a table of keys and values")
    return Event(number, found["at"], found["kind"], found["data"])


def _expect_keys(where: str, found: Mapping[str, Any], keys: tuple[str, ...]) -> None:
    if tuple(found) == keys:
        return
    if missing := [key for key in keys if key not in found]:
        raise CoachError(f"{where}: {', '.join(missing)} missing; expected {', '.join(keys)}")
    if strange := [key for key in found if key not in keys]:
        raise CoachError(f"{where}: found the key {shown(strange[0])}; expected only {', '.join(keys)}")


def _expect_moment(where: str, found: object) -> None:
    if not is_moment(found):
        raise CoachError(f"{where}: found {shown(found)}; expected {_TIME}")


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
