"""The drawing of a board on the saw's table: its size, its words and where they stand, its signs, its breaks."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from rich.cells import cell_len
from support.small_jobs import job as job_of
from support.small_jobs import joint, part, shop

from coach.ground.terms import Edge, End, Face, Hand
from coach.plan.deciding.decide import decide
from coach.plan.job import Job
from coach.plan.steps import Step, StepKind
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker
from coach.tui.drawing import raster
from coach.tui.drawing.board import LEAST_COLUMNS, LEAST_ROWS, TableView, end_view_of, lines, shown, view_of
from coach.tui.drawing.frame import frame_of

# From the top edge, the tails are from 6 to 30 mm and from 40 to 63 mm wide at the end: not symmetrical.
LOPSIDED = joint((6.0, 40.0), (9.0, 42.0), mates_with_mm=12.0)
ROOMY = (110, 24)

both_fence_sides = pytest.mark.parametrize("fence_side", list(Hand))
both_jigs = pytest.mark.parametrize("wide_leads", [True, False])
plain_or_not = pytest.mark.parametrize("plain", [False, True])


def sides(fence_side: Hand = Hand.RIGHT, *, wide_leads: bool = True, width_mm: float = 80.0) -> Job:
    tools = shop(fence_side=fence_side, wide_leads=wide_leads, leading_width_mm=width_mm)
    return job_of([part({End.A: LOPSIDED, End.B: LOPSIDED}, width_mm=72.0)], tools)


def walk_to(job: Job, cut: int) -> tuple[Walker, Step]:
    """A walk at its cut of that number, from 1."""
    walker = Walker(beginning(job, decide(job)))
    while True:
        step = walker.peek()
        assert step is not None
        cut -= step.kind is StepKind.CUT
        if not cut:
            return walker, step
        walker.advance(step)


def at_bench(job: Job) -> Walker:
    """A walk of which all is cut."""
    walker = Walker(beginning(job, decide(job)))
    while (step := walker.peek()) is not None and step.kind is not StepKind.CLEAR:
        walker.advance(step)
    return walker


def view(job: Job, cut: int = 1) -> TableView:
    return view_of(*walk_to(job, cut))


def texts(of: TableView, columns: int, rows: int, *, plain: bool = False) -> list[str]:
    return [line.plain for line in lines(of, columns, rows, plain=plain)]


def row_with(drawn: list[str], words: str) -> str:
    (found,) = (line for line in drawn if words in line)
    return found


VIEWS = {
    "fence at the right": view(sides(), 6),
    "fence at the left": view(sides(Hand.LEFT), 6),
    "narrow end leads": view(sides(wide_leads=False), 6),
    "wide jig": view(sides(width_mm=160.0), 6),
    "narrow jig": view(sides(width_mm=20.0), 6),
    "wide board": view(
        job_of(
            [part({End.A: joint([8.0 + 49.1 * n for n in range(9)])}, width_mm=450.0, length_mm=600.0)],
            shop(fence_max_mm=900.0, throat_mm=900.0),
        ),
        9,
    ),
    "short board": replace(view(sides()), length_mm=40.0),
    "on the bench": end_view_of(at_bench(sides()), 1, End.B),
}
WIDTHS = (LEAST_COLUMNS, 33, 38, 47, 60, 79, 100, 141, 200)
HEIGHTS = (LEAST_ROWS, 8, 9, 12, 15, 24, 37, 60)


@plain_or_not
@pytest.mark.parametrize("name", VIEWS)
def test_there_are_as_many_rows_as_asked_each_as_wide_as_asked(name: str, plain: bool) -> None:
    for columns, rows in product(WIDTHS, HEIGHTS):
        drawn = texts(VIEWS[name], columns, rows, plain=plain)
        assert [cell_len(line) for line in drawn] == [columns] * rows


@pytest.mark.parametrize("size", [(LEAST_COLUMNS - 1, 40), (100, LEAST_ROWS - 1), (0, 0), (-3, -3)])
def test_in_too_little_room_there_is_no_drawing(size: tuple[int, int]) -> None:
    assert lines(VIEWS["fence at the right"], *size, plain=False) == []


@pytest.mark.parametrize("name", VIEWS)
def test_without_unicode_all_signs_are_ascii(name: str) -> None:
    for columns, rows in product(WIDTHS[::3], HEIGHTS[::3]):
        assert "".join(texts(VIEWS[name], columns, rows, plain=True)).isascii()


@pytest.mark.parametrize("signs", [raster.GLYPHS, raster.ASCII])
def test_every_material_has_a_sign_of_its_own_so_that_no_colour_is_needed(signs: dict[int, str]) -> None:
    assert len(set(signs.values())) == len(signs)
    assert all(cell_len(sign) == 1 for sign in signs.values())


@both_fence_sides
@both_jigs
@pytest.mark.parametrize("cut", range(1, 9))
def test_the_words_say_how_the_board_lies_and_stand_where_they_belong(
    cut: int, wide_leads: bool, fence_side: Hand
) -> None:
    walker, step = walk_to(sides(fence_side, wide_leads=wide_leads), cut)
    assert step.side is not None and step.edge is not None
    drawn = texts(view_of(walker, step), *ROOMY)
    assert f" end {step.side.end} leads " in "\n".join(drawn)
    assert f"{step.face_up} face up" in "\n".join(drawn)
    for edge, at_right in (
        (step.edge, fence_side is Hand.RIGHT),
        (step.edge.other, fence_side is Hand.LEFT),
    ):
        row = row_with(drawn, f"{edge} edge")
        assert (row.index(f"{edge} edge") > row.index("█")) == at_right
    jig = row_with(drawn, " jig ")
    fence = row_with(drawn, " fence ")
    assert (jig.index(" jig ") > jig.index("█")) == (fence_side is Hand.RIGHT)
    assert (fence.index(" fence ") > fence.index("█")) == (fence_side is Hand.RIGHT)


@both_fence_sides
@pytest.mark.parametrize("cut", range(1, 9))
def test_tails_are_numbered_from_the_top_edge_wherever_that_is(cut: int, fence_side: Hand) -> None:
    walker, step = walk_to(sides(fence_side), cut)
    drawn = texts(view_of(walker, step), *ROOMY)
    one, two = (next(line.index(number) for line in drawn if number in line) for number in "12")
    top_at_left = (step.edge is Edge.TOP) == (fence_side is Hand.LEFT)
    assert (one < two) == top_at_left


@both_fence_sides
@plain_or_not
@pytest.mark.parametrize("cut", range(1, 9))
@pytest.mark.parametrize("size", [(30, 7), (60, 12), ROOMY])
def test_the_arrow_stands_over_blade_and_kerf(size: tuple[int, int], cut: int, plain: bool, fence_side: Hand) -> None:
    drawn = texts(view(sides(fence_side), cut), *size, plain=plain)
    arrow, kerf = ("v", "#") if plain else ("▼", "▐" if fence_side is Hand.RIGHT else "▌")
    pointer = next(line for line in drawn if f"{arrow} this kerf" in line or f"this kerf {arrow}" in line)
    at = pointer.replace("this kerf", "         ").replace("end", "   ").replace("leads", "     ").index(arrow)
    below = [line[at] for line in drawn[drawn.index(pointer) + 1 :]]
    assert below[0] in "║!"
    assert kerf in below


@both_jigs
def test_a_fence_at_the_left_is_the_mirror_image_with_the_other_face_up(wide_leads: bool) -> None:
    right = view(sides(wide_leads=wide_leads), 6)
    assert right.rig is not None
    left = replace(right, rig=(replace(right.rig[0], side=Hand.LEFT), right.rig[1]))
    there, here = shown(left), shown(right)
    assert there.board == tuple((-x, y) for x, y in here.board)
    assert there.kerf_now == tuple((-x, y) for x, y in here.kerf_now)
    swapped = str.maketrans("▐▌▝▘▗▖", "▌▐▘▝▖▗")
    signs = set("█▄▀░▒▓│╷╵▐▌▝▘▗▖")
    pairs = [
        (one, other)
        for row, mirrored in zip(texts(right, *ROOMY), texts(left, *ROOMY), strict=True)
        for one, other in zip(row, mirrored[::-1].translate(swapped), strict=True)
        if one in signs and other in signs
    ]
    assert len(pairs) > 1000
    assert all(one == other for one, other in pairs)


def test_a_jig_that_is_wide_for_the_picture_is_broken_off_before_the_fence_and_a_narrow_one_is_not() -> None:
    assert all("░╱╱░" in line or "░╲╲░" in line for line in texts(VIEWS["wide jig"], 76, 15)[7:14])
    assert len(frame_of(VIEWS["narrow jig"], 76, 15).panes) == 1
    assert any("░▓▓" in line for line in texts(VIEWS["narrow jig"], 76, 15))


def test_a_board_that_goes_on_ends_in_a_break_and_one_that_is_seen_in_whole_does_not() -> None:
    assert "╲╱╲╱╲╱╲╱" in texts(VIEWS["on the bench"], *ROOMY)[-1]
    short = replace(VIEWS["on the bench"], length_mm=20.0)
    assert not texts(short, *ROOMY)[-1].strip()


def test_of_a_board_too_wide_for_the_picture_the_kerf_and_the_edge_at_the_jig_are_seen_and_what_goes_on_is_broken() -> (
    None
):
    drawn = texts(VIEWS["wide board"], 40, 10)
    assert set("▐▗▝") & set("".join(drawn))
    assert any("█╱╱█" in line or "█╲╲█" in line for line in drawn)
    assert any("░" in line for line in drawn)


def test_all_of_a_wide_board_is_seen_where_there_is_room() -> None:
    drawn = "\n".join(texts(VIEWS["wide board"], 120, 20))
    assert all(str(tail) in drawn for tail in range(1, 10))
    assert "top edge" in drawn
    assert "bottom edge" in drawn


def test_on_the_bench_there_is_no_saw_and_the_outside_face_is_up() -> None:
    found = shown(VIEWS["on the bench"])
    assert (found.leads, found.at_jig, found.face_up) == (End.B, None, Face.OUTSIDE)
    assert not (found.jig or found.fence or found.stop or found.blade or found.kerf_now)
    drawn = texts(VIEWS["on the bench"], *ROOMY)
    assert any(" end B " in line for line in drawn[:2])
    assert not set("░▒▓║▐▌▼") & set("".join(drawn))
    # With the outside face up, end A away has the top edge at the right; spun half round, end B away has it at the
    # left.
    assert row_with(drawn, "top edge").index("top edge") < row_with(drawn, "top edge").index("█")


def test_on_the_bench_each_end_is_drawn_with_its_own_tails() -> None:
    walker = at_bench(job_of([part({End.A: LOPSIDED, End.B: joint((20.0,))}, width_mm=72.0)]))
    drawn = {end: "\n".join(texts(end_view_of(walker, 1, end), *ROOMY)) for end in End}
    assert [("2" in drawn[end]) for end in End] == [True, False]


def test_waste_is_hatched_until_it_is_cleared() -> None:
    walker = at_bench(sides())
    step = walker.peek()
    assert step is not None and step.board is not None and step.end is not None
    before = texts(end_view_of(walker, step.board, step.end), *ROOMY)
    walker.advance(step)
    after = texts(end_view_of(walker, step.board, step.end), *ROOMY)
    assert any("╱╱╱" in line and "│" in line for line in before)
    assert not any("╱╱╱" in line or "│" in line for line in after)


def test_the_slant_is_to_scale() -> None:
    drawn = texts(view(sides(), 1), 200, 60)
    # One in eight, in pixels of which a row has two: 16 rows further down the edge is 4 columns further right.
    assert drawn[56].index("█") - drawn[40].index("█") == pytest.approx(4, abs=1)
