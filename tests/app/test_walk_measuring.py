"""The scrap cut: what was measured is typed, and corrects every reading."""

from __future__ import annotations

import pytest
from support.app_screens import Shown, opened
from support.small_batches import go, go_to, upcoming

from coach.plan.steps import Step, StepKind
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.tui.dialogs.measuring import MeasureScreen
from coach.tui.walk.screen import WalkScreen

COSINE = 8 / 65**0.5  # of the slope 1:8


async def measuring(shown: Shown) -> None:
    """Opens the dialog at the scrap cut."""
    await shown.press("m")
    await shown.until_on(MeasureScreen)


async def fill(shown: Shown, *fields: str) -> None:
    """Fills the fields in order, then presses enter."""
    for text in fields[:-1]:
        await shown.paste(text)
        await shown.pilot.press("tab")
    await shown.paste(fields[-1])
    await shown.pilot.press("enter")


def measured(session: Session) -> list[float | None]:
    """What was recorded as measured, scrap cut by scrap cut."""
    return [event.data["measured_mm"] for event in session.events if event.kind == StepKind.CHECK]


async def test_what_was_measured_corrects_the_reading_and_the_fence_is_set_again(
    store: Store, session: Session
) -> None:
    go_to(session, StepKind.CHECK)
    async with opened(store, session) as shown:
        await measuring(shown)
        await shown.type_in("31 mm")
        await shown.pilot.press("enter")
        await shown.until_on(WalkScreen)
        # By hand: half a millimetre too far is 0.5 · 8/√65 = 0.496 mm at the fence: 109.364 − 0.496 = 108.868 mm.
        await shown.until_shown("SETTING 1 OF 2 Set the fence to 108.87 mm")
        assert shown.shows(
            "The scrap was cut too far from the edge, by 0.5 mm at the fence; all readings are corrected"
        )
        assert shown.shows("Move the fence 0.5 mm towards the blade.")
        assert upcoming(session) == Step(StepKind.SET_FENCE, setting=0, fence_mm=session.walker.stands_mm(0))
    assert measured(session) == [31.0]


async def test_a_scrap_cut_too_near_the_edge_moves_the_fence_away_from_the_blade(
    store: Store, session: Session
) -> None:
    go_to(session, StepKind.CHECK)
    async with opened(store, session) as shown:
        await measuring(shown)
        await fill(shown, "3 cm")
        await shown.until_shown("The scrap was cut too near the edge")
        assert shown.shows("Move the fence 0.5 mm away from the blade.")
        assert session.walker.fence.offset_mm == pytest.approx(0.5 * COSINE)


async def test_a_scrap_cut_from_both_edges_tells_half_of_what_the_wood_left_is_off(
    store: Store, session: Session
) -> None:
    go_to(session, StepKind.CHECK)
    async with opened(store, session) as shown:
        await measuring(shown)
        # By hand: two marks of 30.5 mm in 100 mm leave 39 mm; 38 mm left are 31 mm at each edge.
        await fill(shown, "", "100 mm", "38 mm")
        await shown.until_shown("Set the fence to 108.87 mm")
    assert measured(session) == [31.0]


async def test_a_scrap_cut_that_is_right_as_measured_goes_on_to_the_cut(store: Store, session: Session) -> None:
    go_to(session, StepKind.CHECK)
    async with opened(store, session) as shown:
        await measuring(shown)
        await fill(shown, "30.5 mm")
        await shown.until_shown("The scrap is right.")
        assert upcoming(session).kind is StepKind.CUT


async def test_a_scrap_cut_off_by_next_to_nothing_asks_for_no_move(store: Store, session: Session) -> None:
    go_to(session, StepKind.CHECK)
    async with opened(store, session) as shown:
        await measuring(shown)
        await fill(shown, "30.56 mm")
        await shown.until_shown("So little needs no move now.")
        assert upcoming(session).kind is StepKind.CUT


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        (["31"], '"31"'),
        (["far"], "not understood as a length"),
        (["", "100 mm"], "A cut from both edges needs the scrap's width and the wood left."),
        (["", "", "38 mm"], "A cut from both edges needs the scrap's width and the wood left."),
        (["31 mm", "100 mm", "38 mm"], "Both ways are filled in"),
        (["", "38 mm", "100 mm"], "The wood left is no less than the scrap's width"),
        ([""], "Type what was measured, or press escape if the cut is right."),
        (["41 mm"], "That is 10.5 mm off."),
        (["20.4 mm"], "That is 10.1 mm off."),
        (["", "100 mm", "5 mm"], "That is 17 mm off."),
    ],
)
async def test_what_makes_no_sense_is_refused_in_the_dialog_with_the_reason(
    store: Store, session: Session, fields: list[str], said: str
) -> None:
    check = go_to(session, StepKind.CHECK)
    async with opened(store, session) as shown:
        await measuring(shown)
        await fill(shown, *fields)
        await shown.until_shown(said)
        assert isinstance(shown.screen, MeasureScreen)
        assert upcoming(session) == check
        assert not measured(session)


async def test_a_number_without_a_unit_is_told_that_it_needs_one(store: Store, session: Session) -> None:
    go_to(session, StepKind.CHECK)
    async with opened(store, session) as shown:
        await measuring(shown)
        await fill(shown, "31")
        await shown.until_shown('a length needs a unit, such as "5 mm" or "3/16 in"')
        await shown.type_in(" mm")
        await shown.pilot.press("enter")
        await shown.until_shown("Set the fence to 108.87 mm")


@pytest.mark.parametrize("typed", ["", "31 mm"])
async def test_escape_changes_nothing(store: Store, session: Session, typed: str) -> None:
    check = go_to(session, StepKind.CHECK)
    events = len(session.events)
    async with opened(store, session) as shown:
        await measuring(shown)
        await shown.type_in(typed)
        await shown.pilot.press("escape")
        await shown.until_on(WalkScreen)
        assert upcoming(session) == check
        assert len(session.events) == events


async def test_the_enter_that_closes_the_dialog_completes_no_other_step(store: Store, session: Session) -> None:
    go_to(session, StepKind.CHECK)
    async with opened(store, session) as shown:
        await measuring(shown)
        shown.seconds.passed += 1
        await fill(shown, "31 mm")
        await shown.until_on(WalkScreen)
        await shown.pilot.press("enter")
        await shown.until_shown("The step has just come up")
        assert upcoming(session).kind is StepKind.SET_FENCE


async def test_undo_after_a_measured_scrap_cut_brings_the_old_reading_back(store: Store, session: Session) -> None:
    check = go_to(session, StepKind.CHECK)
    async with opened(store, session) as shown:
        await measuring(shown)
        await fill(shown, "31 mm")
        await shown.until_on(WalkScreen)
        await shown.press("u")
        assert upcoming(session) == check
        assert session.walker.fence.offset_mm == 0


@pytest.mark.parametrize("kind", [StepKind.PREPARE, StepKind.SET_FENCE, StepKind.CUT, StepKind.CLEAR])
async def test_m_at_any_other_step_says_why_nothing_is_measured(store: Store, session: Session, kind: StepKind) -> None:
    step = go_to(session, kind)
    async with opened(store, session) as shown:
        await shown.press("m")
        await shown.until_shown("Only a scrap cut is measured; this step is not one.")
        assert isinstance(shown.screen, WalkScreen)
        assert upcoming(session) == step


async def test_m_is_offered_at_a_scrap_cut_only(store: Store, session: Session) -> None:
    go_to(session, StepKind.CHECK)
    async with opened(store, session) as shown:
        await shown.until_shown("m measured")
        go(session, 1)
        shown.walk.show()
        await shown.until(lambda: not shown.shows("m measured"), "keys without m")


@pytest.mark.parametrize("size", [(80, 24), (40, 15)])
async def test_the_whole_dialog_can_be_read_in_a_small_window(
    store: Store, session: Session, size: tuple[int, int]
) -> None:
    go_to(session, StepKind.CHECK)
    async with opened(store, session, size=size) as shown:
        await measuring(shown)
        await shown.until_shown("The scrap cut should stand at 30.5 mm.")
        await fill(shown, "", "100 mm", "38")
        await shown.until_shown('"38": a length needs a unit, such as "5 mm" or "3/16 in"')
        assert shown.shows("and the wood left between the two kerfs, at the end: 38")


async def test_what_was_set_before_the_correction_stays_as_it_read_then(store: Store, session: Session) -> None:
    go_to(session, StepKind.SET_FENCE)
    async with opened(store, session) as shown:
        await shown.press("space")
        check = upcoming(session)
        assert check.mark_mm is not None
        session.complete(check, measured_mm=check.mark_mm + 1.0)
        shown.walk.show()
        await shown.until_shown("done: fence to 109.36 mm (setting 1)")
        await shown.until_shown("Set the fence to 108.37 mm")
