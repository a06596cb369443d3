"""The walk in plain lines: what each line that is typed does, how it ends, and what isn't counted."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from support.plain_walks import Heard, heard
from support.small_batches import ALL_STEPS, BEFORE_FIRST_CUT, Clock, go, go_to

from coach.ground.errors import CoachError
from coach.plan.steps import StepKind
from coach.record.batch import session as sessions
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.record.rows import Event

ENTER = ""

pytestmark = pytest.mark.usefixtures("home")


def told(session: Session) -> list[tuple[str, object]]:
    """What a batch's events say."""
    return [(event.kind, event.data) for event in session.events]


def last(session: Session) -> Event:
    return session.events[-1]


def at_cut(session: Session, done: int = 0) -> None:
    """Goes on to the first cut, and so many beyond."""
    go(session, BEFORE_FIRST_CUT + done)


# What is typed.


def test_u_takes_back_the_latest_step_and_the_one_before(store: Store, session: Session) -> None:
    at_cut(session, 2)
    said = heard(store, session, ["u", "U"])
    assert "Taken back: side 1, edge-for-edge: end A, tail 1, bottom side." in said.words
    assert len(session.walker.done) == 0
    assert said.farewell.startswith("drawers: 0 of 16 cuts are done")


def test_u_at_the_very_start_has_nothing_to_take_back(store: Store, session: Session) -> None:
    assert "Nothing to take back." in heard(store, session, ["u"]).text


def test_what_was_measured_corrects_the_readings(store: Store, session: Session) -> None:
    go_to(session, StepKind.CHECK)
    said = heard(store, session, ["m", "31", "31 mm"])
    assert last(session).data["measured_mm"] == 31.0
    assert '"31": a length needs a unit' in said.text
    # By hand: half a millimetre too far is 0.5 · 8/√65 = 0.496 mm at the fence: 109.364 − 0.496 = 108.868 mm.
    assert "Setting 1 of 2. Set the fence to 108.87 mm." in said.text
    assert "Move the fence 0.5 mm towards the blade." in said.words


def test_a_scrap_cut_from_both_edges_is_measured_by_what_is_left(store: Store, session: Session) -> None:
    go_to(session, StepKind.CHECK)
    # By hand: the marks stand at 31 mm from either edge of 100 mm, so 38 mm are left between the kerfs.
    heard(store, session, ["m", "b", "100 mm", "120 mm", "38 mm"])
    assert last(session).data["measured_mm"] == pytest.approx(31.0)


def test_a_measure_far_off_is_asked_for_again_and_enter_goes_back(store: Store, session: Session) -> None:
    go_to(session, StepKind.CHECK)
    events = len(session.events)
    said = heard(store, session, ["m", "50 mm", ENTER])
    assert "That is 19.5 mm off." in said.text and "(Enter, then u)" in said.words
    assert len(session.events) == events


def test_only_a_scrap_cut_is_measured(store: Store, session: Session) -> None:
    assert "Only a scrap cut is measured; this step is not one." in heard(store, session, ["m"]).text


def test_a_spoiled_board_is_told_first_and_recorded_once_agreed(store: Store, session: Session) -> None:
    at_cut(session, 1)
    said = heard(store, session, ["c", "s", "h", "a knot fell out", "y"])
    assert "h: side 1, the board in hand" in said.lines
    assert said.text.index("No spare is left for side 1") < said.text.index("y: Yes\nn: No, leave it as it was")
    assert session.walker.out == {1}
    assert said.text.count("No spare is left for side 1") == 2


def test_a_board_is_added(store: Store, session: Session) -> None:
    at_cut(session)
    assert "a: Add a board" in heard(store, session, ["c", ENTER]).lines
    heard(store, session, ["c", "a", "1", "y"])
    assert [board.label for board in session.job.boards] == ["side 1", "side 2", "side 3"]


@pytest.mark.parametrize(
    "back", [[ENTER], ["."], ["s", "h", ENTER], ["S", "h", "a knot", ENTER], ["s", "h", "a knot", "n"]]
)
def test_going_back_changes_nothing_and_says_so(store: Store, session: Session, back: list[str]) -> None:
    at_cut(session)
    events = len(session.events)
    assert "Nothing was changed." in heard(store, session, ["c", *back]).text
    assert len(session.events) == events


def test_a_label_that_can_not_be_is_asked_for_again(store: Store, session: Session) -> None:
    at_cut(session)
    said = heard(store, session, ["c", "n", "side 2", "left"])
    assert "another board is called “side 2” already" in said.words
    assert session.job.board(1).label == "left"


@pytest.mark.parametrize("typed", ["done", "12", "\x1b[A", "ü\u202e", "x" * 5000])
def test_what_means_nothing_is_said_back_with_what_may_be_typed(store: Store, session: Session, typed: str) -> None:
    said = heard(store, session, [typed])
    assert "Found “" in said.text and "expected Enter alone, or u, m, c, l, r, h or q." in said.words
    assert len(session.events) == 2
    assert max(len(line) for line in said.lines) <= 78
    assert "\x1b" not in said.text and "\u202e" not in said.text


# Ends.


class Interrupted:
    """A person who presses Ctrl+C where a line is awaited."""

    seconds = 0.0

    def readline(self, size: int) -> str:  # noqa: ARG002 - as a stream is read
        raise KeyboardInterrupt

    def __str__(self) -> str:
        return "interrupted"


@pytest.mark.parametrize("typed", [[], ["q"], ["c"], ["c", "2"], Interrupted()], ids=str)
def test_however_it_is_left_the_farewell_says_how_to_carry_on(
    store: Store, session: Session, typed: list[str] | Interrupted
) -> None:
    at_cut(session, 1)
    said = heard(store, session, typed)
    assert said.recorded
    assert said.farewell == (
        "drawers: 1 of 16 cuts are done, and all of it is saved.\nCarry on with:\ncoach run --batch drawers --plain\n"
    )


def test_enter_leaves_a_batch_that_is_done(store: Store, session: Session) -> None:
    go(session, ALL_STEPS)
    said = heard(store, session, [ENTER, "never read"])
    assert "Found" not in said.text
    assert said.farewell == "drawers: 16 of 16 cuts are done, and all of it is saved.\n"


# Lines that come too early, too fast or too late.


def early(said: Heard) -> int:
    return said.text.count("Not counted")


def test_an_enter_before_the_step_was_there_for_the_guard_s_time_is_not_counted(store: Store, session: Session) -> None:
    said = heard(store, session, [(0.3, ENTER), (0.3, ENTER)], guarded=True)
    assert (len(session.events), early(said)) == (3, 1)


def test_twenty_enters_at_once_complete_one_step_and_are_told_once(store: Store, session: Session) -> None:
    said = heard(store, session, [ENTER, *[(0.03, ENTER)] * 20, ENTER], guarded=True)
    assert (len(session.events), early(said)) == (4, 1)


def test_a_burst_of_undoing_takes_back_one_step(store: Store, session: Session) -> None:
    at_cut(session, 4)
    heard(store, session, ["u", *[(0.01, "u")] * 5], guarded=True)
    assert len(session.walker.done) == 3


def test_from_a_pipe_every_line_counts(store: Store, session: Session) -> None:
    heard(store, session, [(0.0, ENTER)] * 4)
    assert len(session.events) == 6


def test_after_a_break_the_line_is_not_counted_and_the_saw_comes_first(
    store: Store, session: Session, clock: Clock
) -> None:
    at_cut(session, 1)

    class Late:
        """The morning passes before the line comes."""

        seconds = 0.0
        lines = iter(["\n", ""])

        def readline(self, size: int) -> str:  # noqa: ARG002 - as a stream is read
            clock.time += timedelta(hours=1)
            return next(self.lines)

    said = heard(store, session, Late(), clock=clock)
    assert "That line wasn't counted: after a break, or on a new day, the saw comes first." in said.words
    assert "Prepare. Coming back to the saw." in said.text
    assert len(session.walker.done) == 1


def test_coming_back_the_next_day_begins_with_the_saw(store: Store, session: Session, clock: Clock) -> None:
    at_cut(session, 1)
    clock.time += timedelta(days=1)
    assert heard(store, session, [], clock=clock).steps[0].startswith("Prepare. Coming back to the saw.")


# Others, and faults.


def test_another_window_that_was_quicker_is_told_and_nothing_counts_twice(store: Store, session: Session) -> None:
    at_cut(session)
    other = Session(store, store.batch(session.id))
    go(other, 1)
    said = heard(store, session, [ENTER])
    assert "Another window was quicker" in said.text
    assert said.recorded
    assert told(session) == told(other)


def refusing(*args: object, **kwargs: object) -> None:
    raise CoachError("the disk is full")


def test_a_person_is_told_that_nothing_was_recorded_and_may_try_again(
    store: Store, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_cut(session)
    monkeypatch.setattr(sessions.Session, "complete", refusing)
    said = heard(store, session, [ENTER, ENTER], guarded=True)
    assert said.text.count("Not recorded: the disk is full") == 2
    assert said.recorded


def test_a_pipe_that_can_not_be_recorded_ends_the_walk(
    store: Store, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_cut(session)
    monkeypatch.setattr(sessions.Session, "complete", refusing)
    said = heard(store, session, [ENTER] * 50)
    assert said.text.count("Not recorded: the disk is full") == 1
    assert not said.recorded


def test_the_day_s_backup_is_made_at_the_start(store: Store, session: Session, tmp_path: Path) -> None:
    heard(store, session, [])
    assert len(list((tmp_path / "record" / "backups").glob("coach-20310304-*.db"))) == 1


def test_a_backup_that_can_not_be_made_is_said(store: Store, session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "backup_of_the_day", refusing)
    assert "No backup was made today: the disk is full" in heard(store, session, []).text


def test_the_guard_in_the_person_s_own_file_holds(store: Store, session: Session, home: Path) -> None:
    file = home / "config" / "coach" / "walk.toml"
    file.parent.mkdir(parents=True)
    file.write_text("format = 1\nkey_guard = 3.0\n")
    said = heard(store, session, [(2.0, ENTER)], guarded=True, guard_s=None)
    assert (len(session.events), early(said)) == (2, 1)


def letters(said: Heard) -> dict[str, str]:
    """The choices of the menu by their letters."""
    return {line[0]: line[3:] for line in said.lines if line[1:3] == ": " and line[0].islower()}


def test_a_choice_has_the_same_letter_at_every_step_of_a_batch(store: Store, session: Session) -> None:
    known: dict[str, set[str]] = {}
    for _ in range(ALL_STEPS):
        for letter, words in letters(heard(store, session, ["c", ENTER])).items():
            if letter in "wsnkpfetaob":
                known.setdefault(letter, set()).add(words.replace("side 1", "X").replace("side 2", "X"))
        step = session.next()
        if step is None:
            break
        session.complete(step)
    assert {
        letter: len({words.replace("the board in hand", "X") for words in said}) for letter, said in known.items()
    } == (dict.fromkeys(known, 1))
    assert set(known) == set("wsnkpfeaob")
