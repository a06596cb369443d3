"""Windows that change their size while a screen lies over another: the screens come to rest.

Two messages of sizes that are past would otherwise send the screens after each other for ever, now and then: in a
terminal once in sixteen times, so what is tested here is what keeps it from happening.
"""

from __future__ import annotations

import pytest
from support.app_screens import opened
from support.changing_dialogs import menu, three_boards
from textual import events
from textual.geometry import Size
from textual.screen import Screen

from coach.record.batch.session import Session
from coach.record.disk.store import Store

NOW = Size(100, 40)
PAST = (Size(90, 30), Size(61, 20))


@pytest.fixture
def session(store: Store) -> Session:
    return three_boards(store)


@pytest.mark.parametrize("path", [(), ("A board is spoiled",)])
async def test_a_message_of_a_size_that_is_past_lays_nothing_out_for_it(
    store: Store, session: Session, path: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    laid_out: list[Size | None] = []
    usual = Screen._refresh_layout

    def noted(screen: Screen[object], size: Size | None = None, **more: bool) -> None:
        laid_out.append(size)
        usual(screen, size, **more)

    async with opened(store, session, size=NOW) as shown:
        await menu(shown, *path)
        await shown.pilot.pause(0.2)
        monkeypatch.setattr(Screen, "_refresh_layout", noted)
        screens = (shown.app.screen, *shown.app._background_screens)
        for screen in screens:
            for size in PAST:
                screen.post_message(events.Resize(size, size))
                screen.call_next(_nothing)  # or the later one would stand for both
        await shown.pilot.pause(0.3)
        assert laid_out
        assert set(laid_out) <= {NOW, None}
        assert {screen.size for screen in screens} == {NOW}
        before = len(laid_out)
        await shown.pilot.pause(0.3)
        assert len(laid_out) == before


def _nothing() -> None:
    """Stands between two messages."""
