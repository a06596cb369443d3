"""What is printed is clean, whatever files and batches are called; what can't be read or written is said at once."""

from __future__ import annotations

import io
import os
import re
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest
from support.family_texts import family_text
from support.plain_files import layout_text, live_in, shop_text
from support.small_batches import JOB, SETTINGS, Clock, go

from coach.cli import main
from coach.ground.clean import arguments, batch_option, clean_lines, printable, shell_word, shortened
from coach.ground.errors import CoachError
from coach.ground.places import remembered_file, shop_file, walk_file
from coach.preferences import Remembered, read_preferences, recall
from coach.record.batch.session import start
from coach.record.disk.store import Store
from coach.record.exchange import export_batch, write_new
from coach.record.rescue.recovery import recover
from coach.tui.home.found import find_layouts

BAD = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
NASTY = ("\x1b[31mred\x1b[0m", "\u202egnp.exe", "a\nb", "tab\tbed", "\x9b31m", "\udcff")
linux_only = pytest.mark.skipif(sys.platform != "linux", reason="/dev/full is Linux's")


@pytest.fixture(autouse=True)
def _home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    live_in(tmp_path, monkeypatch)
    monkeypatch.chdir(tmp_path)


def said(capsys: pytest.CaptureFixture[str], *command: str | Path) -> str:
    """What a command that is refused says."""
    assert main([str(word) for word in command]) in (1, 2)
    out, err = capsys.readouterr()
    assert BAD.search(out + err) is None, repr(out + err)
    assert "Traceback" not in out + err
    return err


@pytest.mark.parametrize("name", NASTY)
@pytest.mark.parametrize(
    "command",
    [
        ("check", "FILE"), ("plan", "FILE"), ("fit", "FILE"), ("family", "FILE"), ("import", "FILE"),
        ("run", "--plain", "FILE"), ("run", "--plain", "--batch", "FILE"), ("log", "FILE"),
        ("export", "FILE", "x.json"), ("log", "--data", "good.toml/FILE"), ("recover", "--data", "FILE"),
        ("check", "--shop", "FILE", "good.toml"),
        ("FILE",), ("plan", "--FILE", "good.toml"), ("plan", "--units", "FILE", "good.toml"),
        ("family", "--seconds", "FILE", "good.toml"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_a_name_that_is_no_file_or_batch_is_shown_escaped(
    name: str, command: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    Path("good.toml").write_text(layout_text(), encoding="utf-8")
    err = said(capsys, *(word.replace("FILE", name) for word in command))
    assert err


@pytest.mark.parametrize("name", NASTY[:-1])
def test_files_that_are_called_so_are_shown_escaped(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    for text, command in ((layout_text(root={"slope": '"1:99"'}), "check"), ("[[parts]]\nx", "plan"), ("{", "import")):
        file = Path(f"{name}.toml")
        file.write_text(text, encoding="utf-8")
        assert "\n" not in said(capsys, command, file).strip() or command == "check"
        file.unlink()
    Path(f"{name}.toml").write_text("[[parts]]\nx", encoding="utf-8")
    Path("layouts").mkdir()
    (Path("layouts") / f"{name}.toml").write_text(layout_text(root={"name": '"ok"'}), encoding="utf-8")
    (Path("layouts") / f"{name} 2.toml").write_text("[[parts]]\nx", encoding="utf-8")
    for found in find_layouts(Path()):
        assert BAD.search(found.name + (found.wrong or "")) is None


def test_long_names_are_shortened(capsys: pytest.CaptureFixture[str]) -> None:
    long = "x" * 5000
    for command in (
        ("log", long),
        ("check", f"{long}.toml"),
        ("export", long, "f"),
        ("run", "--plain", "--batch", long),
    ):
        assert len(said(capsys, *command)) < 1000
    assert len(said(capsys, "check", "/".join(["deep"] * 1000))) < 1000
    assert len(said(capsys, "plan", "--units", long, "good.toml")) < 1500


def test_escapes() -> None:
    assert printable("plain “text”") == "plain “text”"
    assert printable("\x1b[1m\u202e\U000e0001\ud800") == "\\x1b[1m\\u202e\\U000e0001\\ud800"
    assert clean_lines("one\ntwo\tthree") == "one\ntwo\\x09three"
    assert shortened("abcdefghij", 5) == "ab…ij"
    assert CoachError("a\x1bb", "c\nd").problems == ("a\\x1bb", "c\nd")


@pytest.mark.parametrize("name", ["-x", "--json", "it's", "a b", "\x1b[1m", "a\nb\\'c", "plain"])
def test_words_for_the_shell_are_what_the_shell_takes(name: str) -> None:
    def shell(command: str) -> list[str]:
        done = subprocess.run(["bash", "-c", f"printf '%s\\0' {command}"], capture_output=True, text=True, check=True)
        return done.stdout.split("\0")[:-1]

    assert shell(shell_word(name)) == [name]
    assert shell(f"x {batch_option(name)}") in (["x", "--batch", name], ["x", f"--batch={name}"])
    assert shell(f"x {arguments(name, 'y')}") in (["x", name, "y"], ["x", "--", name, "y"])


@pytest.mark.parametrize("name", ["-x", "--json", "--batch=y"])
def test_a_batch_that_is_called_like_an_option_can_be_named(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    data = ("--data", str(tmp_path / "record"))
    with Store.open(tmp_path / "record", clock=Clock()) as store:
        go(start(store, name, JOB, SETTINGS, "mm"), 3)
    monkeypatch.setattr("sys.stdin", io.StringIO())  # no line comes
    assert main(["log", *data, "--", name]) == 0
    assert main(["run", "--plain", *data, f"--batch={name}"]) == 0
    assert f"--batch={name}" in capsys.readouterr().out
    assert main(["export", *data, "--", name, "-out.json"]) == 0
    assert "coach import -- -out.json" in capsys.readouterr().out
    assert main(["import", *data, "--", "-out.json"]) == 1
    assert f"--batch='{name} 2' -- -out.json" in capsys.readouterr().err
    assert main(["import", *data, f"--batch={name}2", "--", "-out.json"]) == 0
    assert f"coach run --batch={name}2" in capsys.readouterr().out


# What is no file.


@pytest.mark.parametrize("command", ["check", "plan", "fit", "family", "import"])
@pytest.mark.parametrize("kind", ["pipe", "device", "folder"])
def test_what_is_no_file_is_refused_at_once(command: str, kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    path = Path("odd.toml")
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "device":
        path = Path(os.devnull)
    else:
        path.mkdir()
    begun = time.monotonic()
    err = said(capsys, command, path)
    assert time.monotonic() - begun < 5
    assert {"pipe": "a named pipe, not a file", "device": "a device, not a file", "folder": "irectory"}[
        kind
    ] in err or ("folder" in err)


def test_a_pipe_as_shop_keys_or_memory_is_refused_or_ignored(capsys: pytest.CaptureFixture[str]) -> None:
    Path("good.toml").write_text(layout_text(), encoding="utf-8")
    os.mkfifo("shop.toml")
    assert "named pipe" in said(capsys, "check", "good.toml", "--shop", "shop.toml")
    for path in (shop_file(), walk_file(), remembered_file()):
        path.parent.mkdir(parents=True, exist_ok=True)
        os.mkfifo(path)
    assert "named pipe" in said(capsys, "check", "good.toml")
    with pytest.raises(CoachError, match="named pipe"):
        read_preferences()
    assert recall() == Remembered()


@pytest.mark.parametrize("name", ["coach.db", "coach.db-wal"])
def test_a_pipe_in_the_records_place_is_refused_at_once(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "record"
    folder.mkdir()
    if name != "coach.db":
        Store.open(folder).close()
    os.mkfifo(folder / name)
    for command in (("log",), ("recover",), ("run", "--plain"), ("export", "x", "y")):
        assert f"{name} is a named pipe, not a file" in said(capsys, *command, "--data", folder)
    assert stat.S_ISFIFO((folder / name).stat().st_mode)


# Where nothing can be written.


def coach(*words: str | Path, **streams: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "coach", *map(str, words)]
    return subprocess.run(command, stderr=subprocess.PIPE, text=True, check=False, timeout=60, **streams)  # type: ignore[call-overload, no-any-return]


@linux_only
@pytest.mark.parametrize(
    "command",
    [
        *(("--help",), ("--version",), ("plan", "good.toml"), ("plan", "--json", "good.toml"), ("check", "good.toml")),
        *(("log",), ("log", "--json"), ("log", "--csv"), ("export", "drawers", "out.json")),
    ],
    ids=" ".join,
)
def test_output_to_a_full_disk_is_one_line_and_exit_1(command: tuple[str, ...], tmp_path: Path) -> None:
    Path("good.toml").write_text(layout_text(), encoding="utf-8")
    with Store.open(tmp_path / "record", clock=Clock()) as store:
        start(store, "drawers", JOB, SETTINGS, "mm")
    data = () if command[0].startswith("--") else ("--data", tmp_path / "record")
    with open("/dev/full", "w") as full:  # noqa: PTH123
        done = coach(*command, *data, stdout=full)
    assert done.returncode == 1
    assert done.stderr.splitlines() == ["coach: what is to be printed can't be written: No space left on device"]


@linux_only
def test_errors_to_a_full_disk_are_no_traceback() -> None:
    with open("/dev/full", "w") as full:  # noqa: PTH123
        command = [sys.executable, "-m", "coach", "check", "nowhere.toml"]
        done = subprocess.run(command, stderr=full, stdout=subprocess.PIPE, check=False)
    assert (done.returncode, done.stdout) == (1, b"")


@pytest.mark.parametrize("target", [".", "..", "there", "there/", "nowhere/new.json"])
def test_a_folder_or_a_place_that_is_none_is_refused_as_a_new_file(
    target: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("there").mkdir()
    Path("good.toml").write_text(layout_text(), encoding="utf-8")
    Path("own.toml").write_text(shop_text(fence={"scale": '"0.5 mm"'}), encoding="utf-8")
    with Store.open(tmp_path / "record", clock=Clock()) as store:
        start(store, "drawers", JOB, SETTINGS, "mm")
    before = sorted(tmp_path.rglob("*"))
    for command in (
        ("export", "drawers", target, "--data", tmp_path / "record"),
        ("fit", "good.toml", "--shop", "own.toml", "--write", target),
    ):
        err = said(capsys, *command)
        assert "this is a folder" in err or "No such file or directory" in err
        assert "nothing was written" in err
    assert sorted(tmp_path.rglob("*")) == before


def test_a_killed_export_leaves_nothing(tmp_path: Path) -> None:
    script = """
import os, sys
from pathlib import Path
from coach.record.exchange import write_new
def lines():
    yield "half of it\\n" * 10_000
    print("writing", flush=True)
    import time; time.sleep(60)
write_new(Path(sys.argv[1]), lines())
"""
    folder = tmp_path / "out"
    folder.mkdir()
    command = [sys.executable, "-c", script, str(folder / "x.json")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        process.stdout.readline()
        process.send_signal(signal.SIGKILL)
    assert list(folder.iterdir()) == []


def test_what_an_export_left_half_written_before_is_cleared_away(tmp_path: Path) -> None:
    gone, own, other = (tmp_path / f".x.json.{process}.part" for process in (2**22 + 5, os.getpid(), 12))
    other = tmp_path / ".other.json.99999999.part"
    for part in (gone, own, other):
        part.touch()
    write_new(tmp_path / "x.json", ["text"])
    assert not gone.exists()
    assert own.exists() and other.exists()
    assert (tmp_path / "x.json").read_text() == "text"


def test_a_file_that_comes_meanwhile_is_never_written_over(tmp_path: Path) -> None:
    target = tmp_path / "x.json"

    def lines() -> object:
        target.write_text("another's")
        yield "ours"

    with pytest.raises(CoachError, match="there is such a file already"):
        write_new(target, lines())  # type: ignore[arg-type]
    assert target.read_text() == "another's"
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["x.json"]


@pytest.mark.parametrize("place", ["a file/drawers", "a file", "/proc/nowhere"])
def test_a_family_finds_out_before_the_search_that_it_cannot_be_written(
    place: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def searched(*_: object, **__: object) -> None:
        raise AssertionError("searched all the same")

    monkeypatch.setattr("coach.propose.family.propose", searched)
    Path("a file").touch()
    Path("family.toml").write_text(family_text(), encoding="utf-8")
    Path("own.toml").write_text(shop_text(), encoding="utf-8")
    err = said(capsys, "family", "family.toml", "--shop", "own.toml", "--write", place)
    assert "can't be made a folder" in err


def test_recovery_and_export_name_paths_that_are_clean(tmp_path: Path) -> None:
    folder = tmp_path / "re\x1b[31mcord"
    with pytest.raises(CoachError) as caught:
        recover(folder, clock=Clock())
    assert BAD.search(str(caught.value)) is None
    with Store.open(folder, clock=Clock()) as store:
        start(store, "drawers", JOB, SETTINGS, "mm")
        assert "".join(export_batch(store, store.batch(1)))
