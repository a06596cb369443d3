"""The walk in plain lines: what a listener hears of each step, and in which order."""

from __future__ import annotations

from pathlib import Path

import pytest
from rich.cells import cell_len
from support.mid_batch import uneven
from support.plain_files import live_in
from support.plain_walks import heard
from support.small_batches import ALL_STEPS, BEFORE_FIRST_CUT, JOB, SETTINGS, Ticking, go, go_to
from support.small_jobs import job, joint, part, shop

from coach.cli import main
from coach.ground.terms import End
from coach.plan.deciding.decide import decide
from coach.plan.steps import BENCH_KINDS, Step, StepKind
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.telling.phrases import TURN_WORDS
from coach.trade.reminders import MANUAL

GRAVEST = "DANGER: Hands in the blade's line will be cut. Keep out; key with hands clear."
SECOND = "WARNING: Drawing back pulls a moving blade off its wheels. Let it stand first."
FIRST_HOW = "Full speed first; jig tight to the fence; board home on the stop, no chips."
ENTER = ""

pytestmark = pytest.mark.usefixtures("home")


def told(session: Session) -> list[tuple[str, object]]:
    """What a batch's events say, but for its name."""
    return [(event.kind, {**event.data, "name": None}) for event in session.events]


def at_cut(session: Session, done: int = 0) -> None:
    """Goes on to the first cut, and so many beyond."""
    go(session, BEFORE_FIRST_CUT + done)


def test_an_enter_a_step_records_just_what_the_steps_of_the_plan_would(store: Store, session: Session) -> None:
    said = heard(store, session, [ENTER] * ALL_STEPS)
    other = start(store, "as planned", JOB, SETTINGS, "mm")
    while (step := other.next()) is not None:
        reading = None
        if step.kind is StepKind.SET_FENCE and step.setting is not None:
            reading = f"{other.walker.reading_mm(step.setting):.2f} mm"
        other.complete(step, reading=reading)
    assert told(session) == told(other)
    assert len(said.steps) == ALL_STEPS + 1
    assert said.steps[-1].startswith("The batch is done.\n2 boards, 16 cuts.\n")


def test_each_step_is_said_with_everything_that_tells_it_from_another(store: Store) -> None:
    boards = uneven(shop(throat_mm=900.0, front_mm=30.0))
    session = start(store, "handed", boards, decide(boards), "mm")
    meant: list[Step] = []
    other = start(store, "as planned", boards, decide(boards), "mm")
    while (step := other.next()) is not None:
        meant.append(step)
        other.complete(step)
    said = heard(store, session, [ENTER] * len(meant)).steps
    turned = 0
    for step, words in zip(meant, said, strict=False):
        if step.side is not None:
            assert step.edge is not None and step.face_up is not None
            label, side = boards.board(step.side.board).label, step.side
            assert words.startswith(f"Cut. {label}")
            assert f"end {side.end}, tail {side.tail}, {side.faces} side." in words
            lie = f"End {side.end} leads, {step.edge.upper()} edge at the jig, {step.face_up.upper()} face up."
            assert lie in words
            turned += step.turn is not None
            assert step.turn is None or TURN_WORDS[step.turn] in words.lower()
            assert step.turn is not None or " from the pile" in words or "no turn" in words
        elif step.kind in BENCH_KINDS:
            assert f"{boards.board(step.board or 0).label}" in words
            assert f"end {step.end}" in words
    assert turned > 5


def test_a_cut_is_said_in_the_order_in_which_it_is_needed(store: Store, session: Session) -> None:
    at_cut(session, 1)
    words = heard(store, session, []).steps[0]
    order = ["Cut. side 1: end A, tail 1,", "Roll it over", "BOTTOM edge at the jig, INSIDE face up", "Mark 30.5 mm"]
    order += [GRAVEST, SECOND, "How it is done:\n" + FIRST_HOW, "Setting 1: 7 cuts left on 2 boards. Batch: 1 of 16"]
    places = [words.index(part) for part in order]
    assert places == sorted(places)


def test_after_the_first_cut_of_a_run_only_the_gravest_reminder_is_said_again(store: Store, session: Session) -> None:
    at_cut(session)
    first, second, third = heard(store, session, [ENTER, ENTER]).steps
    assert SECOND in first and FIRST_HOW in first
    for later in (second, third):
        assert GRAVEST in later.splitlines()
        assert SECOND not in later and FIRST_HOW not in later


def test_once_the_fence_has_moved_all_is_said_again(store: Store, session: Session) -> None:
    at_cut(session)
    said = heard(store, session, [ENTER] * 10).steps
    cuts = [words for words in said if words.startswith("Cut.")]
    assert [SECOND in words for words in cuts] == [True, *[False] * 7, True, False]


def test_no_step_is_without_a_reminder_that_begins_with_its_signal_word(store: Store, session: Session) -> None:
    said = heard(store, session, [ENTER] * (ALL_STEPS - 1)).steps
    signals = ("DANGER: ", "WARNING: ", "CAUTION: ", "NOTICE: ")
    assert len(said) == ALL_STEPS
    assert [words for words in said if not any(line.startswith(signals) for line in words.splitlines())] == []


def test_where_a_setting_is_all_cut_it_is_called_a_good_place_to_stop(store: Store, session: Session) -> None:
    at_cut(session, 8)
    assert "Setting 1: all cut, a good place to stop. Batch: 8 of 16 cuts done." in heard(store, session, []).text


def test_a_scrap_cut_speaks_of_the_enter_key(store: Store, session: Session) -> None:
    go_to(session, StepKind.CHECK)
    said = heard(store, session, []).text
    assert "Right within 0.1 mm: Enter, as for any step." in said
    assert "space" not in said


def test_the_start_says_what_comes_before_the_coach_and_what_may_be_typed(store: Store, session: Session) -> None:
    said = heard(store, session, [], advice=["drawers.toml: narrow sockets (a source)"])
    assert said.words.startswith(
        f"coach: drawers. {MANUAL} Advice: drawers.toml: narrow sockets (a source) Enter: done."
    )


def test_the_step_is_said_again_and_help_says_how_it_is_done(store: Store, session: Session) -> None:
    at_cut(session)
    step, again = heard(store, session, [ENTER, "r"]).steps[-1].split("Cut. ")[1:]
    assert again.split() == step.split()
    said = heard(store, session, [ENTER, "?"]).steps[-1]
    assert said.count(SECOND) == 1 and FIRST_HOW in said
    assert "u: take back the latest step" in said


def test_the_log_says_how_far_it_is_in_all_and_then_those_boards_alike_together(store: Store, session: Session) -> None:
    at_cut(session, 3)
    said = heard(store, session, ["l"]).text
    assert "0 of 2 boards all cut; left: 13 cuts, 16 steps at the bench." in said
    assert "side 1: 3 of 8; end A 2 of 4, end B 1 of 4; today 09:30.\nside 2: not begun." in said


def test_no_line_is_longer_than_78_columns_however_long_the_labels_are(store: Store) -> None:
    end = joint((5.0,))
    boards = job([part({End.A: end}, boards=1, label="l" * 56), part({End.A: end}, boards=1, label="横木" * 28)])
    session = start(store, "横" * 60, boards, decide(boards), "mm")
    said = heard(store, session, ["l", "h", "c", ".", *[ENTER] * 40])
    assert "The batch is done." in said.text
    commands = [line for line in said.lines if line.startswith("coach run --batch")]
    assert [line for line in said.lines if cell_len(line) > 78] == commands


def test_where_only_ascii_can_be_shown_our_own_words_are_ascii(store: Store, session: Session) -> None:
    said = heard(store, session, ["x", "h", "l", "c", ENTER, *[ENTER] * ALL_STEPS], plain=True)
    assert said.text.isascii()
    assert 'Jig "test jig", wide end leading' in said.text


def test_how_long_the_cuts_left_will_take_is_said_once_ten_are_cut(store: Store) -> None:
    clock = Ticking()
    with Store.open(store._file.parent / "ticking", clock=clock) as ticking:
        session = start(ticking, "ticking", JOB, SETTINGS, "mm")
        at_cut(session, 8)
        go(session, 1)  # the fence
        said = heard(ticking, session, [ENTER] * 4, clock=clock)
        assert "About" not in said.steps[0]
        assert "About 1 min left" in said.steps[-1]


def test_a_species_is_said_to_be_kept_and_not_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    live_in(tmp_path, monkeypatch)
    sample = Path(__file__).resolve().parents[2] / "layouts" / "shallow-drawers.toml"
    assert main(["check", str(sample)]) == 0
    assert "species “cherry” is kept; nothing is worked out from it yet" in capsys.readouterr().out
