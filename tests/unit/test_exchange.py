"""Batches moved between records: what the file says, that it comes back exactly, and what is refused."""

from __future__ import annotations

import json
import shlex
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from support.damaged_records import batches_in, changed_in_every_way, record
from support.small_batches import MORNING, Clock, upcoming

from coach import __version__
from coach.cli import main
from coach.ground.errors import CoachError
from coach.ground.names import LONGEST_NAME
from coach.record.batch.session import Session
from coach.record.batch.shapes import SHAPES
from coach.record.disk.store import Store
from coach.record.exchange import MOST_BYTES, export_batch, free_name, import_batch, write_new
from coach.record.kinds import CHANGE_KINDS, RETURN, SETTINGS, START, STEP_KINDS, UNDO
from coach.record.rows import BatchRow, Event, Tally

RECORD = record()
Change = Callable[[dict[str, Any]], object]

# A superuser's process may write whatever the modes say; without its capabilities it is like any other's.
WITHOUT_PRIVILEGES = """
import ctypes
header = (ctypes.c_uint32 * 2)(0x20080522, 0)
assert ctypes.CDLL(None, use_errno=True).capset(header, (ctypes.c_uint32 * 6)()) == 0
"""
FULL_DISK = """
import resource
resource.setrlimit(resource.RLIMIT_FSIZE, (ROOM, resource.RLIM_INFINITY))
"""
COMMAND = "\nimport sys\nfrom coach.cli import main\nsys.exit(main(sys.argv[1:]))\n"

linux_only = pytest.mark.skipif(sys.platform != "linux", reason="limits and capabilities as Linux has them")


@pytest.fixture
def here(tmp_path: Path) -> Iterator[Store]:
    """A record with batches in it."""
    with Store.open(RECORD.lay_down(tmp_path / "here"), clock=Clock()) as store:
        yield store


@pytest.fixture
def there(tmp_path: Path) -> Iterator[Store]:
    """An empty record."""
    with Store.open(tmp_path / "there", clock=Clock()) as store:
        yield store


def named(store: Store, name: str) -> BatchRow:
    row = store.batch_named(name)
    assert row is not None
    return row


def exported(store: Store, name: str = "drawers") -> str:
    return "".join(export_batch(store, named(store, name)))


def changed(store: Store, change: Change, name: str = "drawers") -> str:
    """An exported batch whose file was changed."""
    found = json.loads(exported(store, name))
    change(found)
    return json.dumps(found)


def refusal(store: Store, text: str | Path) -> str:
    with pytest.raises(CoachError) as caught:
        import_batch(store, text, name=None)
    assert store.batches() == []
    return str(caught.value)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


# The file.


def test_an_exported_batch_says_what_it_is(here: Store) -> None:
    found = json.loads(exported(here))
    head = {key: value for key, value in found.items() if key != "events"}
    assert head == {
        "format": 1,
        "kind": "coach-batch",
        "made_by": f"coach {__version__}",
        "batch": "drawers",
        "started": named(here, "drawers").started,
    }


def test_each_event_has_a_line_of_its_own(here: Store) -> None:
    lines = exported(here).splitlines()
    assert len(lines) == 2 + len(RECORD.events["drawers"])
    assert json.loads(lines[5].rstrip(",")) == {
        "number": 5,
        "at": RECORD.events["drawers"][4].at,
        "kind": RECORD.events["drawers"][4].kind,
        "data": RECORD.events["drawers"][4].data,
    }


def test_an_export_reads_the_record_as_it_is_written_out(here: Store) -> None:
    assert next(export_batch(here, named(here, "drawers"))).endswith('"events": [\n')


# There and back.


@pytest.mark.parametrize("name", ["chest", "drawers", "late"])
def test_a_batch_that_went_to_another_record_and_out_again_is_the_same_file(
    here: Store, there: Store, name: str
) -> None:
    file = exported(here, name)
    import_batch(there, file, name=None)
    assert exported(there, name) == file


def test_another_name_is_all_that_differs(here: Store, there: Store) -> None:
    import_batch(there, exported(here), name="Schubladen ⅜″")
    assert exported(there, "Schubladen ⅜″") == exported(here).replace('"drawers"', '"Schubladen ⅜″"', 1)


@pytest.mark.parametrize("name", ["chest", "drawers", "late"])
def test_events_and_tally_come_over_as_they_were(here: Store, there: Store, name: str) -> None:
    row = import_batch(there, exported(here, name), name=None)
    assert tuple(there.events(row.id)) == RECORD.events[name]
    before = named(here, name)
    assert (row.name, row.started, row.last) == (before.name, before.started, before.last)
    assert Tally(row.cuts, row.cuts_done, row.steps_left, row.finished) == Tally(
        before.cuts, before.cuts_done, before.steps_left, before.finished
    )


def test_an_imported_batch_stands_at_the_same_step(here: Store, there: Store) -> None:
    row = import_batch(there, exported(here), name=None)
    assert Session(there, row).walker.situation() == Session(here, named(here, "drawers")).walker.situation()


def test_a_clock_that_was_set_back_between_the_two_changes_nothing(here: Store, tmp_path: Path) -> None:
    early = Clock()
    early.time -= timedelta(days=9000)
    with Store.open(tmp_path / "early", clock=early) as store:
        row = import_batch(store, exported(here), name=None)
        session = Session(store, row)
        assert session.away_too_long(early.time)
        session.complete(upcoming(session))
        assert exported(store).startswith(exported(here).removesuffix("\n]}\n"))
        # Its times now go back in their middle, which is how it was.
        assert import_batch(store, exported(store), name="again").events == row.events + 1


def test_the_form_of_every_kind_of_event_is_known() -> None:
    assert SHAPES.keys() == STEP_KINDS | CHANGE_KINDS | {START, SETTINGS, UNDO, RETURN}


def test_a_batch_with_every_kind_of_change_comes_over(there: Store, tmp_path: Path) -> None:
    with Store.open(tmp_path / "other", clock=Clock()) as store:
        session = changed_in_every_way(store)
        file = exported(store, "changed")
        row = import_batch(there, file, name=None)
        assert Session(there, row).walker.situation() == session.walker.situation()
        assert exported(there, "changed") == file


# What is refused: the file as a whole.


def test_a_missing_file_is_refused_by_name(there: Store, tmp_path: Path) -> None:
    assert refusal(there, tmp_path / "none.json") == (
        f"{tmp_path / 'none.json'}: can't be read: No such file or directory; "
        "expected a batch as coach export writes it"
    )


def test_a_folder_is_refused(there: Store, tmp_path: Path) -> None:
    assert "Is a directory" in refusal(there, tmp_path)


def test_a_file_over_256_megabytes_is_refused_unread(there: Store, tmp_path: Path) -> None:
    with (tmp_path / "large.json").open("wb") as file:
        file.truncate(MOST_BYTES + 1)
    assert "larger than 256 MB" in refusal(there, tmp_path / "large.json")


def test_text_that_is_not_utf_8_is_refused_with_its_line(there: Store, tmp_path: Path) -> None:
    (tmp_path / "x.json").write_bytes(b'{\n"batch": "\xff"}')
    assert "x.json: line 2: not UTF-8 text" in refusal(there, tmp_path / "x.json")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "not JSON that can be kept: Expecting value: line 1 column 1"),
        ('{"format": 1,', "not JSON that can be kept"),
        ("[" * 100_000, "nested too deeply"),
        ("[" * 60 + "]" * 60, "nested more than 40 deep"),
        ("9" * 5000, "is too large"),
        ("1e999", "the number '1e999' is too large"),
        ("NaN", "found NaN, which is no number"),
        ('"\\ud800"', "characters that are not text"),
        ('{"kind": 1, "kind": 2}', "the key 'kind' stands twice in one table"),
        ("[]", 'kind: found a list of 0; expected "coach-batch"'),
        ("null", 'kind: found null; expected "coach-batch"'),
        ('{"kind": "coach-plan"}', "kind: found 'coach-plan'; expected \"coach-batch\""),
        ('{"kind": "coach-batch"}', "format: found null; expected 1"),
        ('{"kind": "coach-batch", "format": 2}', "format: found 2; expected 1: a newer coach wrote this"),
        ('{"kind": "coach-batch", "format": true}', "format: found true; expected 1"),
        ('{"kind": "coach-batch", "format": 1}', "made_by, batch, started, events missing"),
    ],
)
def test_what_is_no_exported_batch_is_refused_in_one_line(there: Store, text: str, says: str) -> None:
    said = refusal(there, text)
    assert says in said
    assert len(said.splitlines()) == 1
    assert len(said) < 400


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda found: found.update(colour="red"), "the file: found the key 'colour'; expected only format, kind"),
        (lambda found: found.update(batch=7), "batch: found 7; expected a text"),
        (lambda found: found.update(batch=""), "the batch's name is empty"),
        (lambda found: found.update(batch="x" * (LONGEST_NAME + 1)), "the batch's name has 61 characters"),
        (lambda found: found.update(batch="a\x1b[2Jb"), "the batch's name holds the unprintable character U+001B"),
        (lambda found: found.update(started="yesterday"), "started: found 'yesterday'; expected a time such as 2031-"),
        (lambda found: found.update(events=[]), "events: found a list of 0; expected a list that isn't empty"),
        (lambda found: found.update(events={}), "events: found a table of 0 keys"),
    ],
)
def test_a_wrong_head_is_refused(here: Store, there: Store, change: Change, says: str) -> None:
    assert says in refusal(there, changed(here, change))


# What is refused: events.


def event(nth: int, **values: object) -> Change:
    return lambda found: found["events"][nth - 1].update(values)


def data(nth: int, **values: object) -> Change:
    return lambda found: found["events"][nth - 1]["data"].update(values)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda found: found["events"].pop(4), "event 5: number: found 6; expected 5, without a gap from 1"),
        (lambda found: found["events"].insert(4, found["events"][4]), "event 6: number: found 5; expected 6"),
        (lambda found: found["events"].insert(4, None), "event 5: found null; expected a table of number, at"),
        (event(3, number="3"), "event 3: number: found '3'; expected 3"),
        (event(1, number=True), "event 1: number: found true; expected 1"),
        (event(3, colour=1), "event 3: found the key 'colour'; expected only number, at, kind, data"),
        (lambda found: found["events"][2].pop("at"), "event 3: at missing; expected number, at, kind, data"),
        (event(3, at="2031-03-04T09:30:00"), "event 3: at: found '2031-03-04T09:30:00'; expected a time such as"),
        (event(3, at="2031-13-04T09:30:00+01:00"), "event 3: at: found '2031-13-04T09:30:00+01:00'"),
        (event(3, at=17), "event 3: at: found 17; expected a time"),
        (event(3, kind=None), "event 3: kind: found null; expected a short text"),
        (event(3, data=[]), "event 3: data: found a list of 0; expected a table"),
        (event(3, kind="steam-bend"), "the kind steam-bend, which a newer coach must have written"),
        (event(1, kind="return"), "the batch has no beginning"),
    ],
)
def test_wrong_events_are_refused(here: Store, there: Store, change: Change, says: str) -> None:
    assert says in refusal(there, changed(here, change))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (data(1, unit="cubit"), 'event 1 (start): unit: found \'cubit\'; expected "in" or "mm"'),
        (data(1, layouts=[]), "event 1 (start): layouts: found a list of 0; expected a list that isn't empty"),
        (
            lambda found: found["events"][0]["data"]["layouts"][0]["parts"][0].update(boards=99_999),
            "event 1: found 100000 boards; expected at most 10000",
        ),
        (
            lambda found: found["events"][0]["data"]["layouts"][0]["parts"][0].update(width_mm=-3),
            "layouts[1].parts[1].width_mm: found -3; expected a number that a length or an angle can have above 0",
        ),
        (
            lambda found: found["events"][0]["data"]["shop"]["jigs"][0].update(slope=2.0),
            "shop.jigs[1].slope: found 2.0; expected a slope in radians, more than 0 and less than 45°",
        ),
        (
            lambda found: found["events"][0]["data"]["layouts"][0]["parts"][0]["ends"]["A"]["top_marks_mm"].pop(),
            "found 1 marks from the top edge and 2 from the bottom edge; expected as many of each",
        ),
        (lambda found: found["events"][0]["data"]["shop"].pop("saw"), "event 1 (start): shop.saw is missing"),
        (
            lambda found: found["events"][1]["data"]["serves"][0][0].__setitem__(3, 40),
            "event 2 (settings): setting: found 40; expected 0 to 1",
        ),
        (
            lambda found: found["events"][0]["data"]["shop"]["fences"][0].update(graduation=["1e999999999", "in"]),
            "shop.fences[1].graduation: found a list of 2; expected a ratio in mm and a unit",
        ),
        (
            lambda found: found["events"][1]["data"]["serves"][0][2].__setitem__(
                3, found["events"][1]["data"]["serves"][0][0][3]
            ),
            "one fence setting would serve",
        ),
        (
            lambda found: found["events"][1]["data"]["serves"][0].append(["A", 3, "top", 0]),
            'the settings of part "side" serve other sides than it has',
        ),
        (
            lambda found: found["events"][1]["data"]["serves"][0].clear(),
            "the events speak of a side, board or setting that the batch doesn't have",
        ),
        (data(2, fence_mm="wide"), "event 2 (settings): fence_mm: found 'wide'; expected a list that isn't empty"),
        (data(9, setting=7), "event 9 (set-fence): setting: found 7; expected 0 to 1"),
        (data(13, number=9), "event 13 (cut): the number of a board: found 9; expected 1 to 5"),
        (data(13, tail=9), "the events speak of a side, board or setting that the batch doesn't have"),
        (data(13, faces="left"), 'event 13 (cut): faces: found \'left\'; expected "top" or "bottom"'),
        (data(13, mark_mm="5 mm"), "event 13 (cut): mark_mm: found '5 mm'; expected a number"),
        (data(13, board="\u202egnorw"), "event 13 (cut): board: found '\\u202egnorw'; expected at most 1000 printable"),
        (lambda found: found["events"][12]["data"].pop("turn"), "event 13 (cut): turn is missing; expected"),
    ],
)
def test_data_that_a_batch_cannot_have_is_refused(here: Store, there: Store, change: Change, says: str) -> None:
    assert says in refusal(there, changed(here, change))


def undo_in(found: dict[str, Any]) -> dict[str, Any]:
    return next(event["data"] for event in found["events"] if event["kind"] == "undo")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda found: undo_in(found).update(number=1), "found that it takes back event 1 of the kind"),
        (lambda found: undo_in(found).update(number=30), "the number of the event that is taken back: found 30"),
        (lambda found: undo_in(found).update(of="cat"), "of the kind 'cat'; expected"),
    ],
)
def test_an_undo_of_what_was_not_done_is_refused(here: Store, there: Store, change: Change, says: str) -> None:
    assert says in refusal(there, changed(here, change))


# Names.


def test_a_name_that_is_taken_is_refused_with_one_that_is_free(here: Store, tmp_path: Path) -> None:
    file = tmp_path / "my drawers.json"
    write_new(file, export_batch(here, named(here, "drawers")))
    with pytest.raises(CoachError) as caught:
        import_batch(here, file, name=None)
    assert str(caught.value) == (
        f"{file}: a batch called “drawers” is in the record already; nothing was imported. "
        f"Give it another name:  coach import --batch 'drawers 2' {shlex.quote(str(file))}"
    )
    assert tuple(here.events(named(here, "drawers").id)) == RECORD.events["drawers"]


def test_a_free_name_is_kept_and_a_long_one_shortened(here: Store) -> None:
    long = "x" * LONGEST_NAME
    here.take_in(
        long,
        "2031-03-04T09:30:00.000-05:00",
        [Event(1, "2031-03-04T09:30:00.000-05:00", "a", {})],
        Tally(0, 0, 0, finished=False),
    )
    assert free_name(here, "new") == "new"
    assert free_name(here, long) == f"{'x' * 50} 2"


# Writing.


def test_a_file_that_is_there_already_is_left_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "x.json").write_text("mine", encoding="utf-8")
    with pytest.raises(CoachError, match=r"x\.json: there is such a file already; nothing was written"):
        write_new(tmp_path / "x.json", ["new"])
    assert contents(tmp_path) == {"x.json": b"mine"}


def test_a_link_to_nowhere_is_a_file_that_is_there_too(tmp_path: Path) -> None:
    (tmp_path / "x.json").symlink_to(tmp_path / "nowhere")
    with pytest.raises(CoachError, match="there is such a file already"):
        write_new(tmp_path / "x.json", ["new"])


def test_a_file_that_came_meanwhile_is_left_as_it_is(tmp_path: Path) -> None:
    def lines() -> Iterator[str]:
        (tmp_path / "x.json").write_text("mine", encoding="utf-8")
        yield "new"

    with pytest.raises(CoachError, match="there is such a file already"):
        write_new(tmp_path / "x.json", lines())
    assert contents(tmp_path) == {"x.json": b"mine"}


def test_a_record_that_fails_in_the_middle_leaves_no_file(tmp_path: Path) -> None:
    def lines() -> Iterator[str]:
        yield "half"
        raise CoachError("damaged")

    with pytest.raises(CoachError, match="damaged"):
        write_new(tmp_path / "x.json", lines())
    assert contents(tmp_path) == {}


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(CoachError, match=r"none/x\.json: can't be written: No such file or directory; nothing was"):
        write_new(tmp_path / "none" / "x.json", ["new"])


# The commands.


def run(script: str, *argv: str | Path) -> subprocess.CompletedProcess[str]:
    words = [str(word) for word in argv]
    return subprocess.run(
        [sys.executable, "-c", script + COMMAND, *words], capture_output=True, encoding="utf-8", check=False
    )


def test_a_batch_goes_from_one_folder_to_another(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    RECORD.lay_down(tmp_path / "here")
    file = tmp_path / "out.json"
    assert main(["export", "drawers", str(file), "--data", str(tmp_path / "here")]) == 0
    assert capsys.readouterr().out == f"“drawers” is in {file}; on the other computer:  coach import {file}\n"
    assert main(["import", str(file), "--data", str(tmp_path / "there")]) == 0
    said = capsys.readouterr().out
    assert said.startswith("“drawers” is in the record: ")
    assert said.endswith("of 40 cuts done; carry it on:  coach run --batch drawers\n")
    assert batches_in(tmp_path / "there") == {"drawers": RECORD.events["drawers"]}


def test_an_import_may_get_another_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = RECORD.lay_down(tmp_path / "here")
    main(["export", "chest", str(tmp_path / "out.json"), "--data", str(folder)])
    assert main(["import", str(tmp_path / "out.json"), "--data", str(folder)]) == 1
    assert "--batch 'chest 2'" in capsys.readouterr().err
    assert main(["import", str(tmp_path / "out.json"), "--batch", "chest 2", "--data", str(folder)]) == 0
    assert capsys.readouterr().out == "“chest 2” is in the record: 8 of 8 cuts done; finished\n"


def test_a_batch_that_is_not_there_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = RECORD.lay_down(tmp_path / "here")
    assert main(["export", "shelves", str(tmp_path / "out.json"), "--data", str(folder)]) == 1
    assert "there is no batch called “shelves”" in capsys.readouterr().err
    assert not (tmp_path / "out.json").exists()


def test_recover_prints_what_it_did(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = RECORD.lay_down(tmp_path / "here", b"rubbish" * 500)
    assert main(["recover", "--data", str(folder)]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == f"{folder / 'coach.db'}: it is damaged (file is not a database)."
    assert said[1].startswith("The old file is kept as coach-damaged-")
    assert said[2].endswith("all of its 28 entries are there, from the backup coach-20310304-120000.db.")
    assert main(["recover", "--data", str(folder)]) == 1
    assert "the record is sound" in capsys.readouterr().err


@linux_only
def test_an_export_to_a_full_disk_is_told_and_leaves_no_file(tmp_path: Path) -> None:
    with Store.open(tmp_path / "here", clock=Clock()) as store:
        long = [Event(number, MORNING.isoformat(), "note", {"text": "x" * 100}) for number in range(1, 400)]
        store.take_in("long", MORNING.isoformat(), long, Tally(0, 0, 0, finished=False))
    (tmp_path / "out").mkdir()
    # SQLite needs 32 KiB for its log's index even to read; the export is larger.
    script = FULL_DISK.replace("ROOM", "33_000")
    done = run(script, "export", "long", tmp_path / "out" / "x.json", "--data", tmp_path / "here")
    assert (done.returncode, done.stdout) == (1, "")
    assert "can't be written: File too large; nothing was written" in done.stderr
    assert contents(tmp_path / "out") == {}


@linux_only
def test_an_export_to_a_read_only_folder_is_told(tmp_path: Path) -> None:
    folder = RECORD.lay_down(tmp_path / "here")
    (tmp_path / "out").mkdir(mode=0o555)
    done = run(WITHOUT_PRIVILEGES, "export", "drawers", tmp_path / "out" / "x.json", "--data", folder)
    assert done.stderr == f"{tmp_path / 'out' / 'x.json'}: can't be written: Permission denied; nothing was written\n"


@linux_only
def test_an_import_into_a_full_disk_is_told_and_imports_nothing(tmp_path: Path, here: Store) -> None:
    write_new(tmp_path / "x.json", export_batch(here, named(here, "drawers")))
    Store.open(tmp_path / "there").close()
    done = run(FULL_DISK.replace("ROOM", "6000"), "import", tmp_path / "x.json", "--data", tmp_path / "there")
    assert done.returncode == 1
    assert "Make room" in done.stderr
    assert batches_in(tmp_path / "there") == {}


@linux_only
def test_an_import_into_a_read_only_folder_is_told_and_changes_nothing(tmp_path: Path, here: Store) -> None:
    write_new(tmp_path / "x.json", export_batch(here, named(here, "drawers")))
    Store.open(tmp_path / "there").close()
    before = contents(tmp_path / "there")
    (tmp_path / "there").chmod(0o555)
    done = run(WITHOUT_PRIVILEGES, "import", tmp_path / "x.json", "--data", tmp_path / "there")
    (tmp_path / "there").chmod(0o755)
    assert "the folder is read-only; nothing was written" in done.stderr
    assert contents(tmp_path / "there") == before
