"""The commands, run in the test's own process: what they print, where, and their exit codes."""

from __future__ import annotations

import csv
import io
import json
import sys
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from support.plain_files import Keys, layout_text, live_in, shop_text

from coach import __version__
from coach.cli import main
from coach.ground import places
from coach.ground.places import sample_layouts_folder
from coach.loading import load
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.tui.app import CoachApp

STREAMS = ("stdin", "stdout", "stderr")


@dataclass
class Shell:
    """Runs command lines and keeps what they print; the streams in `terminals` pass for a terminal."""

    folder: Path
    capsys: pytest.CaptureFixture[str]
    terminals: tuple[str, ...] = ()
    out: str = ""
    err: str = ""
    opened: list[CoachApp] = field(default_factory=list)

    def run(self, *argv: str | Path) -> int:
        with pytest.MonkeyPatch.context() as patch:
            for name in self.terminals:
                patch.setattr(getattr(sys, name), "isatty", lambda: True)
            code = main([str(word) for word in argv])
        self.out, self.err = self.capsys.readouterr()
        return code

    def layout(self, name: str = "drawers.toml", part: Keys | None = None, *, root: Keys | None = None) -> Path:
        file = self.folder / name
        file.write_text(layout_text(part, root=root), encoding="utf-8")
        return file

    def own_shop(self) -> None:
        places.shop_file().parent.mkdir(parents=True, exist_ok=True)
        places.shop_file().write_text(shop_text(), encoding="utf-8")

    def begun(self, name: str, steps: int | None = 0, part: Keys | None = None) -> None:
        """A batch with so many steps done, or (None) all."""
        loaded = load([self.layout("begun.toml", part)], None, None)
        with Store.open(places.data_folder()) as store:
            session = start(store, name, loaded.job, loaded.settings, loaded.unit)
            while (step := session.next()) is not None and (steps is None or steps > 0):
                session.complete(step)
                steps = None if steps is None else steps - 1

    def undo(self, name: str) -> None:
        with Store.open(places.data_folder()) as store:
            row = store.batch_named(name)
            assert row is not None
            Session(store, row).undo()

    def names(self) -> list[str]:
        with Store.open(places.data_folder()) as store:
            return sorted(row.name for row in store.batches())


@pytest.fixture
def shell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shell:
    live_in(tmp_path, monkeypatch)
    return Shell(tmp_path, capsys)


@pytest.fixture
def terminal(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> Shell:
    """A shell in a terminal, where an app that would open is kept instead."""
    shell.terminals = STREAMS

    def kept(app: CoachApp) -> int:
        shell.opened.append(app)
        return 0

    monkeypatch.setattr(CoachApp, "run_to_end", kept)
    return shell


def single(lines: str) -> str:
    """The one line that was printed."""
    (line,) = lines.splitlines()
    return line


# Command lines.


@pytest.mark.parametrize(
    ("argv", "says"),
    [
        (["frob"], "coach: argument COMMAND: invalid choice: 'frob'"),
        (["plan"], "coach plan: the following arguments are required: LAYOUT"),
        (["check"], "coach check: the following arguments are required: LAYOUT"),
        (["plan", "x.toml", "--units", "cubits"], "coach plan: argument --units: invalid choice: 'cubits'"),
        (["log", "--json", "--csv"], "not allowed with argument --json"),
        (["log", "a", "b"], "unrecognized arguments: b"),
        (["--key-guard", "soon"], "expected seconds from 0 to 5"),
        (["--key-guard", "nan"], "expected seconds from 0 to 5"),
        (["--frob"], "unrecognized arguments: --frob"),
        (["run"], "coach run: expected a LAYOUT, or --batch NAME to carry one on"),
    ],
)
def test_a_wrong_command_line_gets_two_and_one_line_on_stderr(shell: Shell, argv: list[str], says: str) -> None:
    assert shell.run(*argv) == 2
    assert says in single(shell.err)
    assert shell.out == ""


def test_the_version_is_printed(shell: Shell) -> None:
    assert shell.run("--version") == 0
    assert shell.out == f"coach {__version__}\n"


@pytest.mark.parametrize("argv", [["--help"], ["plan", "--help"], ["run", "--help"]])
def test_help_is_printed(shell: Shell, argv: list[str]) -> None:
    assert shell.run(*argv) == 0
    assert shell.out.startswith("usage: coach")


def test_common_options_stand_before_or_after_the_command(shell: Shell) -> None:
    file = shell.layout()
    assert shell.run("--units", "in", "plan", file) == 0
    before = shell.out
    assert shell.run("plan", file, "--units", "in") == 0
    assert shell.out == before


# coach plan


def test_a_plan_has_settings_order_turns_and_totals(shell: Shell) -> None:
    shell.own_shop()
    assert shell.run("plan", shell.layout()) == 0
    assert shell.out.splitlines()[:4] == [
        "Drawers",
        "4 boards, 32 cuts, 2 fence settings",
        "Jig “one in eight”, 1:8 (7.1°), wide end leading",
        "kerf 0.9 mm; fence at the right of the blade",
    ]
    # Worked by hand for 1:8, cos = 8/√65: 80 + 30.5 × cos − 0.9 = 109.364 and 80 + 5 × cos − 0.9 = 84.061.
    assert "      1  109.36 mm  set by measuring             16       4\n" in shell.out
    assert "      2  84.06 mm   25.3 mm towards the blade    16       4\n" in shell.out
    assert "The fence is set 2 times, boards are picked up 8 times.\n" in shell.out
    assert "Turns: 16 edge-for-edge, 8 end-for-end.\n" in shell.out


def test_a_plan_says_how_each_board_lies_at_each_cut(shell: Shell) -> None:
    shell.own_shop()
    shell.run("plan", shell.layout())
    assert (
        "Setting 1: 109.36 mm\n"
        "    turn           end leads  edge at jig  face up  tail  side    mark\n"
        "  side 1 … side 4 (4 boards, in this order)\n"
        "    no turn        A          top          outside  2     top     30.5 mm\n"
        "    edge-for-edge  A          bottom       inside   1     bottom  30.5 mm\n"
    ) in shell.out


def test_a_plan_explains_the_turns_that_it_uses(shell: Shell) -> None:
    shell.run("plan", shell.layout())
    assert "roll it over, edge for edge: other edge, other face, same end\n" in shell.out
    assert "tumble it" not in shell.out


def test_lefts_and_rights_are_said_apart_and_in_order(shell: Shell) -> None:
    one_end = '[parts.end_A]\ntails = 1\nhalf_pin = "7 mm"\n'
    file = shell.folder / "handed.toml"
    file.write_text(layout_text({"handed": "true"}, more=one_end), encoding="utf-8")
    shell.run("plan", file)
    assert "  side 1 … side 4 (4 boards, in this order)\n   left: 1, 3\n" in shell.out
    assert "   right: 2, 4\n" in shell.out


def test_one_of_a_thing_is_said_in_the_singular(shell: Shell) -> None:
    one = {"boards": "1", "tails": "1", "pin": None, "ends": '"A"'}
    shell.run("plan", shell.layout(part=one))
    assert "1 board, 2 cuts, 1 fence setting\n" in shell.out
    assert "The fence is set once, boards are picked up once.\n" in shell.out


def test_a_plan_in_a_pipe_has_no_escapes_no_blanks_at_the_end_and_fits_80_columns(shell: Shell) -> None:
    shell.own_shop()
    for name in ("shallow-drawers", "handed-sides", "from-marks"):
        assert shell.run("plan", sample_layouts_folder() / f"{name}.toml") == 0
        lines = shell.out.splitlines()
        assert "\x1b" not in shell.out
        assert [line for line in lines if line != line.rstrip()] == []
        assert [line for line in lines if len(line) > 80] == []


def test_a_long_name_is_not_broken_in_a_pipe(shell: Shell) -> None:
    name = "a rather long name for a layout, with sixty characters in it"
    shell.run("plan", shell.layout(root={"name": f'"{name}"'}), shell.layout("b.toml", root={"name": f'"{name[1:]}"'}))
    assert shell.out.splitlines()[0] == f"{name} + {name[1:].strip()}"


def test_a_name_that_looks_like_markup_prints_as_written(shell: Shell) -> None:
    file = shell.layout(part={"label": '"[red]a[/] :smile:"'}, root={"name": '"[bold]x[/]"'})
    assert shell.run("plan", file) == 0
    assert shell.out.startswith("[bold]x[/]\n")
    assert "[red]a[/] :smile: 1 … [red]a[/] :smile: 4" in shell.out


def test_a_plan_with_the_sample_shop_says_so_and_where_ones_own_goes(shell: Shell) -> None:
    shell.run("plan", shell.layout())
    said = " ".join(shell.out.split())
    assert "Sample shop in use, not yours: measure your own saw, fence and jig and save them as " in said
    assert str(places.shop_file()) in said


def test_a_plan_with_ones_own_shop_says_nothing_of_the_sample(shell: Shell) -> None:
    shell.own_shop()
    shell.run("plan", shell.layout())
    assert "ample shop" not in shell.out


def test_several_layouts_share_settings(shell: Shell) -> None:
    shell.own_shop()
    second = shell.layout("b.toml", {"label": '"back"', "width": '"60 mm"'}, root={"name": '"Chest"'})
    assert shell.run("plan", shell.layout(), second) == 0
    assert shell.out.startswith("Drawers + Chest\n8 boards, 64 cuts, 3 fence settings\n")


def test_labels_that_clash_get_the_layouts_name(shell: Shell) -> None:
    second = shell.layout("b.toml", {"width": '"60 mm"'}, root={"name": '"Chest"'})
    shell.run("plan", shell.layout(), second)
    assert "  Drawers side 1 … Drawers side 4 (4 boards, in this order)\n" in shell.out
    assert "Chest side 4" in shell.out


def test_a_wrong_layout_gets_one_and_its_mistakes_on_stderr(shell: Shell) -> None:
    assert shell.run("plan", shell.layout(part={"boards": "0", "joint": '"mitre"'})) == 1
    assert shell.out == ""
    assert len(shell.err.splitlines()) == 2
    assert "Traceback" not in shell.err


def test_a_missing_layout_gets_one(shell: Shell) -> None:
    assert shell.run("plan", shell.folder / "none.toml") == 1
    assert single(shell.err) == f"{shell.folder / 'none.toml'}: no such file"


# coach plan --json


def planned(shell: Shell, *files: Path) -> dict[str, Any]:
    assert shell.run("plan", *files, "--json") == 0
    plan = json.loads(shell.out)
    assert isinstance(plan, dict)
    return plan


def test_a_plan_as_json_is_one_line_and_nothing_else(shell: Shell) -> None:
    shell.run("plan", shell.layout(), "--json")
    assert single(shell.out).startswith('{"format": 1, ')
    assert shell.err == ""


def test_a_plan_as_json_has_its_format_and_batch(shell: Shell) -> None:
    plan = planned(shell, shell.layout(part={"spares": "1"}))
    assert plan["format"] == 1
    assert (plan["batch"]["boards"], plan["batch"]["cuts"], plan["batch"]["spares"]) == (5, 40, 1)


def test_a_plan_as_json_says_whether_the_shop_is_the_sample(shell: Shell) -> None:
    assert planned(shell, shell.layout())["shop"]["sample"] is True
    shell.own_shop()
    assert planned(shell, shell.layout())["shop"]["sample"] is False


def test_settings_as_json_have_every_key_of_the_contract(shell: Shell) -> None:
    shell.own_shop()
    first, second = planned(shell, shell.layout())["settings"]
    assert first == {
        "setting": 1,
        "fence_mm": pytest.approx(109.3644749, abs=1e-6),
        "reading": "109.36 mm",
        "move_mm": None,
        "cuts": 16,
        "jig": "one in eight",
        "fence_side": "right",
    }
    assert (second["setting"], second["move_mm"]) == (2, pytest.approx(-25.5 * 8 / 65**0.5, abs=1e-9))


def test_lengths_as_json_are_unrounded_floats(shell: Shell) -> None:
    shell.own_shop()
    plan = planned(shell, shell.layout(part={"half_pin": '"3/16 in"'}))
    fences = [setting["fence_mm"] for setting in plan["settings"]]
    marks = {step["mark_mm"] for step in plan["steps"] if step["kind"] == "cut"}
    assert all(isinstance(length, float) for length in [*fences, *marks])
    # Worked by hand: 3/16 in is 4.7625 mm; 80 + 4.7625 × 8/√65 − 0.9.
    assert min(marks) == 4.7625
    assert min(fences) == pytest.approx(79.1 + 4.7625 * 8 / 65**0.5, abs=1e-12)


def test_a_cut_as_json_has_every_key_of_the_contract(shell: Shell) -> None:
    shell.own_shop()
    cuts = [step for step in planned(shell, shell.layout())["steps"] if step["kind"] == "cut"]
    assert cuts[0] == {
        "step": cuts[0]["step"],
        "kind": "cut",
        "setting": 1,
        "board": "side 1",
        "end": "A",
        "tail": 2,
        "faces": "top",
        "edge": "top",
        "face_up": "outside",
        "mark_mm": 30.5,
        "turn": None,
    }
    assert (cuts[1]["turn"], cuts[1]["edge"], cuts[1]["face_up"]) == ("edge-for-edge", "bottom", "inside")


def test_steps_as_json_are_numbered_from_one_without_a_gap(shell: Shell) -> None:
    steps = planned(shell, shell.layout())["steps"]
    assert [step["step"] for step in steps] == list(range(1, len(steps) + 1))


def test_every_kind_of_step_as_json_has_what_belongs_to_it(shell: Shell) -> None:
    keys = {
        "prepare": {"topic"},
        "set-fence": {"setting"},
        "check": {"setting", "mark_mm"},
        "cut": {"setting", "board", "end", "tail", "faces", "edge", "face_up", "mark_mm", "turn"},
        "clear": {"board", "end"},
        "transfer": {"board", "end"},
        "saw-pin": {"board", "end"},
        "fit": {"board", "end"},
    }
    steps = planned(shell, shell.layout())["steps"]
    assert {step["kind"] for step in steps} == set(keys)
    assert [step for step in steps if set(step) != {"step", "kind", *keys[step["kind"]]}] == []


def test_every_cut_comes_at_the_setting_that_the_fence_was_last_set_to(shell: Shell) -> None:
    setting = None
    for step in planned(shell, shell.layout())["steps"]:
        if step["kind"] == "set-fence":
            setting = step["setting"]
        if step["kind"] == "cut":
            assert step["setting"] == setting


def test_spares_as_json_come_after_the_other_boards(shell: Shell) -> None:
    plan = planned(shell, shell.layout(part={"boards": "2", "spares": "1"}))
    assert list(dict.fromkeys(step["board"] for step in plan["steps"] if step["kind"] == "cut")) == [
        "side 1",
        "side 2",
        "side 3",
    ]


def test_a_name_outside_ascii_is_itself_as_json(shell: Shell) -> None:
    shell.run("plan", shell.layout(part={"label": '"Zarge ü"'}), "--json")
    assert "Zarge ü 1" in shell.out


# coach check


def test_a_sound_layout_is_said_to_be_so(shell: Shell) -> None:
    shell.own_shop()
    assert shell.run("check", shell.layout()) == 0
    assert "4 boards, 32 cuts at 2 fence settings: sawn on the virtual saw, every tail comes out right." in single(
        shell.out
    )


def test_advice_is_printed_with_its_file_reason_and_source_and_is_no_error(shell: Shell) -> None:
    shell.own_shop()
    file = shell.layout(part={"pin": '"1.2 mm"'})
    assert shell.run("check", file) == 0
    assert (
        f'{file}: part "side", end A and end B: advice: the narrowest socket is 1.2 mm wide at the end; '
        "pins are seldom narrower than 1/16 in (Griffith, Essentials of Woodworking, 1908, §100)\n"
    ) in shell.out


def test_a_check_with_the_sample_shop_says_so_and_where_ones_own_goes(shell: Shell) -> None:
    shell.run("check", shell.layout())
    assert shell.out.startswith("Sample shop in use, not yours: ")
    assert str(places.shop_file()) in shell.out


def test_a_check_of_an_impossible_layout_gets_one(shell: Shell) -> None:
    assert shell.run("check", shell.layout(part={"half_pin": '"0.5 mm"'})) == 1
    assert shell.out == ""
    assert "parts[1].half_pin: " in shell.err


def test_what_is_out_of_reach_gets_one(shell: Shell) -> None:
    assert shell.run("check", sample_layouts_folder() / "wide-panel.toml") == 1
    assert "177 mm short" in shell.err


def test_a_check_names_markup_as_written(shell: Shell) -> None:
    shell.run("check", shell.layout(part={"label": '"[b]x[/]"', "pin": '"1.2 mm"'}))
    assert 'part "[b]x[/]", end A' in shell.out


# coach log


def test_without_a_batch_the_log_says_how_to_start_one(shell: Shell) -> None:
    assert shell.run("log") == 0
    assert single(shell.out) == "No batch has been started yet: coach run LAYOUT starts one."


@pytest.mark.parametrize("form", ["--json", "--csv"])
def test_without_a_batch_the_log_for_programs_is_empty_but_sound(shell: Shell, form: str) -> None:
    assert shell.run("log", form) == 0
    if form == "--json":
        assert json.loads(shell.out) == []
    else:
        assert len(list(csv.reader(io.StringIO(shell.out)))) == 1


def test_an_unknown_batch_gets_one_and_the_known_names(shell: Shell) -> None:
    assert shell.run("log", "nope") == 1
    assert single(shell.err) == "there is no batch called “nope”; in the record: none yet"
    shell.begun("drawers")
    assert shell.run("log", "nope") == 1
    assert single(shell.err) == "there is no batch called “nope”; in the record: “drawers”"


def test_all_batches_are_listed_with_how_far_they_are(shell: Shell) -> None:
    shell.begun("half done", 13)
    shell.begun("done", None)
    shell.run("log")
    heading, *rows = shell.out.splitlines()
    assert heading.split() == ["batch", "cuts", "state", "last", "worked", "on"]
    assert any(row.startswith("half done  ") and "5 of 32  under way  today " in row for row in rows)
    assert any(row.startswith("done  ") and "32 of 32  finished " in row for row in rows)


def test_a_batch_says_which_boards_were_cut_and_what_is_left(shell: Shell) -> None:
    shell.own_shop()
    shell.begun("drawers", 13)
    assert shell.run("log", "drawers") == 0
    lines = shell.out.splitlines()
    assert lines[0] == "drawers"
    assert lines[2].startswith("side 1  4 of 8     A 2 of 4, B 2 of 4  today ")
    assert lines[3].startswith("side 2  1 of 8     ")
    assert lines[4] == "side 3  not begun  A 0 of 4, B 0 of 4"
    assert lines[-1] == "0 of 4 boards all cut; left: 27 cuts, 32 steps at the bench"


def test_the_log_of_a_batch_cut_with_the_sample_shop_says_so(shell: Shell) -> None:
    shell.begun("drawers")
    shell.run("log", "drawers")
    assert "Sample shop in use, not yours: " in shell.out


def test_the_log_in_a_pipe_has_no_escapes_and_no_blanks_at_the_end(shell: Shell) -> None:
    shell.begun("[bold]a rather long name for a batch, sixty characters[/]", 10)
    for argv in (["log"], ["log", "[bold]a rather long name for a batch, sixty characters[/]"]):
        shell.run(*argv)
        assert "[bold]a rather long name for a batch, sixty characters[/]" in shell.out
        assert "\x1b" not in shell.out
        assert [line for line in shell.out.splitlines() if line != line.rstrip()] == []


def test_the_log_as_json_has_every_key_of_the_contract_for_a_cut(shell: Shell) -> None:
    shell.begun("drawers", 9)
    assert shell.run("log", "drawers", "--json") == 0
    events = json.loads(shell.out)
    (cut,) = [event for event in events if event["kind"] == "cut"]
    assert datetime.fromisoformat(cut["at"]).utcoffset() is not None
    wanted = {
        "batch": "drawers",
        "board": "side 1",
        "end": "A",
        "tail": 2,
        "faces": "top",
        "edge": "top",
        "mark_mm": 30.5,
        "undone": False,
    }
    assert {key: cut[key] for key in wanted} == wanted


def test_every_event_as_json_has_time_kind_and_batch(shell: Shell) -> None:
    shell.begun("drawers", None)
    shell.run("log", "--json")
    events = json.loads(shell.out)
    assert events
    assert [event for event in events if not {"at", "kind", "batch"} <= set(event)] == []


def test_an_undone_cut_is_marked_as_json(shell: Shell) -> None:
    shell.begun("drawers", 10)
    shell.undo("drawers")
    shell.run("log", "drawers", "--json")
    cuts = [event["undone"] for event in json.loads(shell.out) if event["kind"] == "cut"]
    assert cuts == [False, True]


def test_the_log_as_json_names_the_layouts_and_the_sample_shop(shell: Shell) -> None:
    shell.begun("drawers")
    shell.run("log", "--json")
    begun = json.loads(shell.out)[0]
    assert (begun["kind"], begun["layouts"], begun["sample_shop"]) == ("start", ["Drawers"], True)


def test_the_log_of_all_batches_as_json_holds_each(shell: Shell) -> None:
    shell.begun("one", 2)
    shell.begun("two", 2)
    shell.run("log", "--json")
    assert {event["batch"] for event in json.loads(shell.out)} == {"one", "two"}


def test_the_log_as_csv_has_a_heading_and_a_row_for_each_event(shell: Shell) -> None:
    shell.begun("drawers", 10)
    shell.undo("drawers")
    assert shell.run("log", "drawers", "--csv") == 0
    rows = list(csv.DictReader(io.StringIO(shell.out)))
    cuts = [row for row in rows if row["kind"] == "cut"]
    assert [(cut["board"], cut["end"], cut["tail"], cut["undone"]) for cut in cuts] == [
        ("side 1", "A", "2", "no"),
        ("side 1", "A", "1", "yes"),
    ]


@pytest.mark.parametrize("sign", ["=", "+", "-", "@"])
def test_a_csv_cell_that_a_spreadsheet_would_run_is_quoted(shell: Shell, sign: str) -> None:
    shell.begun(f"{sign}1+1", 9, {"label": f'"{sign}SUM(A1)"'})
    shell.run("log", "--csv")
    cells = [cell for row in csv.reader(io.StringIO(shell.out)) for cell in row]
    assert f"'{sign}1+1" in cells
    assert f"'{sign}SUM(A1) 1" in cells
    assert [cell for cell in cells if cell.startswith(sign)] == []


def test_a_csv_cell_with_commas_and_quotes_is_read_back_whole(shell: Shell) -> None:
    shell.begun('a, "b"', 1)
    shell.run("log", "--csv")
    assert {row["batch"] for row in csv.DictReader(io.StringIO(shell.out))} == {'a, "b"'}


# coach run, and coach alone


def test_a_new_batch_is_named_after_its_layout(terminal: Shell) -> None:
    assert terminal.run("run", terminal.layout()) == 0
    assert terminal.names() == ["Drawers"]
    (app,) = terminal.opened
    assert app.session is not None
    assert app.session.name == "Drawers"


def test_a_batch_of_several_layouts_is_named_after_all(terminal: Shell) -> None:
    second = terminal.layout("b.toml", {"label": '"back"'}, root={"name": '"Chest"'})
    terminal.run("run", terminal.layout(), second)
    assert terminal.names() == ["Drawers + Chest"]


def test_a_batch_gets_the_name_that_is_asked_for(terminal: Shell) -> None:
    terminal.run("run", terminal.layout(), "--batch", "kitchen")
    assert terminal.names() == ["kitchen"]


def test_advice_is_handed_to_the_app(terminal: Shell) -> None:
    terminal.run("run", terminal.layout(part={"pin": '"1.2 mm"'}))
    assert any("pins are seldom narrower" in note for note in terminal.opened[0].advice)


@pytest.mark.parametrize(("name", "says"), [("", "is empty"), ("a\nb", "U+000A"), ("n" * 61, "61 characters")])
def test_a_name_that_no_batch_can_have_gets_one(terminal: Shell, name: str, says: str) -> None:
    assert terminal.run("run", terminal.layout(), "--batch", name) == 1
    assert "the batch's name" in single(terminal.err)
    assert says in terminal.err
    assert terminal.opened == []


def test_an_unfinished_batch_of_equal_layouts_is_carried_on(terminal: Shell) -> None:
    terminal.begun("Drawers", 10)
    assert terminal.run("run", terminal.layout()) == 0
    assert terminal.names() == ["Drawers"]
    session = terminal.opened[0].session
    assert session is not None
    assert session.walker.cuts_left_in_all == 30


def test_other_layouts_under_an_unfinished_batchs_name_are_refused_with_both_commands(terminal: Shell) -> None:
    terminal.begun("Drawers", 10)
    changed = terminal.layout("my drawers.toml", {"pin": '"5 mm"'})
    assert terminal.run("run", changed) == 1
    assert terminal.opened == []
    assert "coach run --batch Drawers\n" in terminal.err
    assert f"coach run --batch 'Drawers 2' '{changed}'\n" in terminal.err


def test_both_offered_commands_work(terminal: Shell) -> None:
    terminal.begun("Drawers", 10)
    changed = terminal.layout("changed.toml", {"pin": '"5 mm"'})
    terminal.run("run", changed)
    assert terminal.run("run", "--batch", "Drawers") == 0
    assert terminal.run("run", changed, "--batch", "Drawers 2") == 0
    assert terminal.names() == ["Drawers", "Drawers 2"]


def test_a_finished_batchs_name_gets_a_new_number(terminal: Shell) -> None:
    terminal.begun("Drawers", None)
    terminal.run("run", terminal.layout())
    assert terminal.names() == ["Drawers", "Drawers 2"]


def test_a_batch_is_carried_on_without_its_file(terminal: Shell) -> None:
    terminal.begun("Drawers", 10)
    (terminal.folder / "begun.toml").unlink()
    assert terminal.run("run", "--batch", "Drawers") == 0
    session = terminal.opened[0].session
    assert session is not None
    assert session.name == "Drawers"


def test_a_finished_batch_is_not_carried_on(terminal: Shell) -> None:
    terminal.begun("my drawers", None)
    assert terminal.run("run", "--batch", "my drawers") == 1
    assert single(terminal.err) == "the batch “my drawers” is finished; coach log 'my drawers' shows it"


def test_an_unknown_batch_is_not_carried_on(terminal: Shell) -> None:
    terminal.begun("Drawers")
    assert terminal.run("run", "--batch", "nope") == 1
    assert single(terminal.err) == "there is no batch called “nope”; in the record: “Drawers”"


def test_a_wrong_layout_starts_nothing(terminal: Shell) -> None:
    assert terminal.run("run", terminal.layout(part={"boards": "0"})) == 1
    assert (terminal.names(), terminal.opened) == ([], [])


def test_coach_alone_opens_the_app_without_a_batch(terminal: Shell) -> None:
    assert terminal.run() == 0
    assert [app.session for app in terminal.opened] == [None]


def test_the_options_reach_the_app(terminal: Shell) -> None:
    terminal.run("--units", "in", "--key-guard", "0.2")
    context = terminal.opened[0].context
    assert (context.units, context.guard_s) == ("in", 0.2)


def test_a_data_folder_given_on_the_command_line_holds_the_record(terminal: Shell) -> None:
    terminal.run("run", terminal.layout(), "--data", terminal.folder / "elsewhere")
    assert (terminal.folder / "elsewhere" / "coach.db").is_file()
    assert terminal.names() == []


@pytest.mark.parametrize("argv", [[], ["run", "--batch", "x"]])
def test_without_a_terminal_the_walk_is_refused_in_one_line(shell: Shell, argv: list[str]) -> None:
    assert shell.run(*argv) == 1
    assert single(shell.err).startswith("the walk needs a terminal, but the keys come from a file or pipe; ")


def test_without_a_terminal_a_run_starts_no_batch(shell: Shell) -> None:
    assert shell.run("run", shell.layout()) == 1
    assert shell.names() == []


@pytest.mark.parametrize("missing", ["stdout", "stderr"])
def test_a_screen_that_goes_to_a_file_is_no_terminal(terminal: Shell, missing: str) -> None:
    terminal.terminals = tuple(name for name in STREAMS if name != missing)
    assert terminal.run() == 1
    assert "the screen goes to a file or pipe" in single(terminal.err)
