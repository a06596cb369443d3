"""Another shop in mid-batch, and a change from the slower of two windows."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.app_screens import opened
from support.changing_dialogs import answer, back, choose, kinds, menu, three_boards
from support.small_batches import go, upcoming

from coach.plan.steps import StepKind
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.tui.dialogs.asking import Ask

SHOP = """\
format = 1
[saw]
kerf = "1.1 mm"
column_side = "left"
throat = "345 mm"
backing_out = "stopped"
[[fences]]
side = "right"
min = "0 mm"
max = "300 mm"
front = "200 mm"
scale = "none"
zero = "0 mm"
[[jigs]]
name = "one in eight"
slope = "1:8"
leading_width = "80 mm"
leading_end = "wide"
length = "330 mm"
thickness = "8 mm"
"""


@pytest.fixture
def session(store: Store) -> Session:
    return three_boards(store)


async def test_another_blade_is_taken_from_a_shop_file(store: Store, session: Session, home: Path) -> None:
    (home / "new.toml").write_text(SHOP)
    async with opened(store, session) as shown:
        await menu(shown, "Another blade, jig or fence")
        await answer(shown, "~/new.toml")
        await shown.until_shown("Settings that are begun keep their marks")
        await choose(shown, "Yes")
        await back(shown)
        await shown.until(lambda: session.job.shop.saw.kerf_mm == pytest.approx(1.1), "the new kerf")
    assert upcoming(session).kind is StepKind.PREPARE


@pytest.mark.parametrize(
    ("content", "why"),
    [(None, "new.toml"), ("format = 1\n[saw]\nkerf = 1.1\n", "needs a unit"), ("kerf", "new.toml")],
)
async def test_a_shop_file_that_can_not_be_read_is_refused_in_the_dialog(
    store: Store, session: Session, home: Path, content: str | None, why: str
) -> None:
    events = len(session.events)
    if content is not None:
        (home / "new.toml").write_text(content)
    async with opened(store, session) as shown:
        await menu(shown, "Another blade, jig or fence")
        await answer(shown, "~/new.toml")
        await shown.until_shown(why)
        assert isinstance(shown.screen, Ask)
    assert len(session.events) == events


async def test_a_blade_too_wide_for_the_sockets_is_refused_in_the_walk(
    store: Store, session: Session, home: Path
) -> None:
    (home / "new.toml").write_text(SHOP.replace("1.1 mm", "4.5 mm"))
    events = len(session.events)
    async with opened(store, session) as shown:
        await menu(shown, "Another blade, jig or fence")
        await answer(shown, "~/new.toml")
        await back(shown, "Not recorded:", "socket")
    assert len(session.events) == events


async def test_a_change_from_the_slower_window_is_refused_and_told(store: Store, session: Session) -> None:
    other = Session(store, store.batch(session.id))
    async with opened(store, session) as shown:
        await menu(shown, "A board is spoiled", "side 1, the board in hand")
        await answer(shown, "split")
        await shown.until_shown("Shall it be so?")
        go(other, 1)
        events = len(other.events)
        await choose(shown, "Yes")
        await back(shown, "Another window was quicker: this one has caught up, and nothing was counted twice.")
        assert session.walker.out == set()
        assert len(session.events) == events
        assert session.walker.done == other.walker.done


async def test_the_same_board_spoiled_in_both_windows_is_out_once(store: Store, session: Session) -> None:
    from coach.record.batch import corrections

    other = Session(store, store.batch(session.id))
    async with opened(store, session) as shown:
        await menu(shown, "A board is spoiled", "side 1, the board in hand")
        await answer(shown, "split")
        await shown.until_shown("Shall it be so?")
        other.change(corrections.spoil(other, 1, "split").events)
        await choose(shown, "Yes")
        await back(shown, "Another window was quicker")
    assert kinds(session, 0).count("spoil") == 1
    assert session.walker.out == {1}
