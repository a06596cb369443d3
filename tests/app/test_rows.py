"""The widget that the walk's text stands in: what it paints anew, how long lines end, and what the mouse selects."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest
from textual.app import App, ComposeResult
from textual.content import Content
from textual.geometry import Region
from textual.pilot import Pilot

from coach.tui.walk.rows import Rows

COLUMNS, ROWS = 20, 5


class Sheet(App[None]):
    """Nothing but rows."""

    def __init__(self, *, ellipsis: bool) -> None:
        super().__init__()
        self.rows = Rows("sheet", ellipsis=ellipsis)
        self.repainted: list[Region] = []

    def compose(self) -> ComposeResult:
        yield self.rows

    def put(self, *lines: str | Content) -> None:
        self.rows.put([Content(line) if isinstance(line, str) else line for line in lines])

    def watch_repaints(self, monkeypatch: pytest.MonkeyPatch) -> None:
        refresh = self.rows.refresh

        def watched(*regions: Region, **how: bool) -> Rows:
            self.repainted += regions
            return refresh(*regions, **how)

        monkeypatch.setattr(self.rows, "refresh", watched)

    def shown(self) -> list[str]:
        return [strip.text for strip in self.screen._compositor.render_strips()]

    def colour_of(self, text: str) -> str:
        segments = (segment for strip in self.screen._compositor.render_strips() for segment in strip)
        (style,) = {segment.style for segment in segments if segment.text == text}
        assert style is not None and style.color is not None
        return style.color.name


@asynccontextmanager
async def sheet(*lines: str | Content, ellipsis: bool = True) -> AsyncIterator[tuple[Sheet, Pilot[None]]]:
    app = Sheet(ellipsis=ellipsis)
    async with app.run_test(size=(COLUMNS, ROWS)) as pilot:
        app.put(*lines)
        await pilot.pause()
        yield app, pilot


async def test_only_rows_that_change_are_painted_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    async with sheet("one", "two", "three", "four") as (app, pilot):
        app.watch_repaints(monkeypatch)
        app.put("one", "TWO", "THREE", "four", "five")
        assert app.repainted == [Region(0, 1, COLUMNS, 2), Region(0, 4, COLUMNS, 1)]
        await pilot.pause()
        assert [line.strip() for line in app.shown()] == ["one", "TWO", "THREE", "four", "five"]


async def test_the_same_lines_again_paint_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    async with sheet("one", Content.styled("two", "bold")) as (app, _):
        app.watch_repaints(monkeypatch)
        app.put("one", Content.styled("two", "bold"))
        assert not app.repainted


async def test_another_style_alone_is_painted_anew() -> None:
    async with sheet(Content.styled("one", "#112233")) as (app, pilot):
        app.put(Content.styled("one", "#445566"))
        await pilot.pause()
        assert app.colour_of("one") == "#445566"


async def test_fewer_lines_leave_blank_rows() -> None:
    async with sheet("one", "two", "three") as (app, pilot):
        app.put("one")
        await pilot.pause()
        assert "".join(app.shown()).split() == ["one"]


async def test_lines_take_the_colours_of_another_theme() -> None:
    async with sheet(Content.styled("one", "$primary"), "two") as (app, pilot):
        app.theme = "nord"
        await pilot.pause()
        before = app.colour_of("one")
        app.theme = "gruvbox"
        await pilot.pause()
        assert app.colour_of("one") != before
        app.theme = "nord"
        await pilot.pause()
        assert app.colour_of("one") == before


@pytest.mark.parametrize(("ellipsis", "expected"), [(True, " abcdefghijklmnopq… "), (False, " abcdefghijklmnopqr ")])
async def test_a_line_too_long_ends_as_it_should_within_its_row(ellipsis: bool, expected: str) -> None:
    async with sheet("abcdefghijklmnopqrstuvwxyz", "next", ellipsis=ellipsis) as (app, _):
        assert app.shown()[:2] == [expected, " next".ljust(COLUMNS)]


async def test_a_line_of_wide_signs_stays_within_its_row() -> None:
    async with sheet("長" * 15) as (app, _):
        strips = app.screen._compositor.render_strips()
        assert [strip.cell_length for strip in strips] == [COLUMNS] * ROWS


async def test_the_mouse_selects_text_over_several_rows() -> None:
    async with sheet("first line", "second line", "third line") as (app, pilot):
        plain = app.shown()
        await pilot.mouse_down("#sheet", offset=(7, 0))
        await pilot.hover("#sheet", offset=(5, 2))
        await pilot.mouse_up("#sheet", offset=(5, 2))
        await pilot.pause()
        assert app.screen.get_selected_text() == "line\nsecond line\nthird"
        segments = [segment for segment in app.screen._compositor.render_strips()[1] if segment.text.strip()]
        grounds = {segment.style.bgcolor.name for segment in segments if segment.style and segment.style.bgcolor}
        assert len(grounds) == 1 and app.rows.background_colors[1].hex.lower() not in grounds
        assert app.shown() == plain
