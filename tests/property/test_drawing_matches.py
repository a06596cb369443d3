"""The drawing of a board on the table shows what rigid boards, turned by rotation matrices and sawn, come to."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import pytest
import shapely
from hypothesis import HealthCheck, Phase, event, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from support.layout_texts import LayoutText, ShopText, batches
from support.rigged_jobs import fence, jig, panel
from support.rigged_jobs import shop as rigged_shop
from support.rigid_board import (
    LAID,
    Bench,
    Board,
    EndDesign,
    Matrix,
    about_vertical,
    apply,
    lying,
    tail_outline,
    times,
)
from support.sawn_wood import Kerf, Wood, bench_of
from textual.content import Content

from coach.ground.terms import Hand, Side
from coach.joint.files import parse_layout
from coach.plan.deciding.decide import decide
from coach.plan.job import Job, make_job
from coach.plan.steps import Step
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker
from coach.shop.files import parse_shop
from coach.tui.drawing.board import Shown, TableView, lines, shown, view_of
from coach.tui.drawing.frame import frame_of

CHECKED = settings(
    max_examples=20,
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)
MOST_CUTS = 60
SAME_MM, SAME_MM2 = 1e-6, 1e-4
GRID_MM = 1e-8
SIZES = ((30, 7), (44, 11), (76, 15), (100, 24))


@dataclass(frozen=True)
class Laid:
    """A board on the table, the moment before a cut, as rigid motion puts it there; in the table's frame."""

    said: tuple[str, str, str]
    board: BaseGeometry
    kerfs_made: dict[tuple[int, str], BaseGeometry]
    kerf_now: BaseGeometry
    waste: BaseGeometry
    jig: BaseGeometry


def job_of(batch: tuple[ShopText, list[LayoutText]]) -> Job:
    shop_text, layouts = batch
    shop = parse_shop("shop.toml", shop_text.text)
    event(f"fence {shop.fence.side}, wide end leads: {shop.jig.wide_leads}")
    return make_job([parse_layout(f"layout {n}", layout.text) for n, layout in enumerate(layouts)], shop)


jobs = batches().map(job_of).filter(lambda job: job.cuts <= MOST_CUTS)


def at_each_cut(job: Job) -> Iterator[tuple[Step, TableView, Laid]]:
    """Every cut of a batch: the step, what the drawing is made from, and what rigid boards come to."""
    walker = Walker(beginning(job, decide(job)))
    wood = Wood()
    number = 0
    while (step := walker.peek()) is not None:
        if step.side is not None:
            assert step.setting is not None
            number += 1
            shop = walker.job_at(step.setting).shop
            fence_mm = walker.settings.fence_mm[step.setting]
            root = job.pattern_of(step.side.board).ends[step.side.end].tail_length_mm
            view = view_of(walker, step)
            wood.cut(number, step, shop, fence_mm, root)
            yield step, view, laid(job, wood, number, step.side, bench_of(shop, fence_mm))
        walker.advance(step)


def laid(job: Job, wood: Wood, event_number: int, side: Side, bench: Bench) -> Laid:
    """How a board lies that has just been put down for a cut, with all kerfs that it has at the leading end."""
    part = job.pattern_of(side.board).part
    ends = {
        end.value: EndDesign(one.tail_length_mm, one.top_marks_mm, one.bottom_marks_mm)
        for end, one in job.pattern_of(side.board).ends.items()
    }
    board = Board(part.label, part.width_mm, part.length_mm, part.thickness_mm, ends)
    sawn = wood.of(side.board)
    turned = sawn.put[-1][1]
    kerfs = {
        (cut.tail, cut.faces.value): _slot(board, kerf) for cut, kerf in sawn.standing.values() if cut.end is side.end
    }
    end, edge, _ = said = lying(turned, bench)
    corner = (0.0 if end == "A" else board.length_mm, board.width_mm if edge == "top" else 0.0, 0.0)
    rotation = times(about_vertical(bench.slant), times(LAID, turned))
    tip = apply(rotation, corner)
    moved = _Motion(rotation, bench.corner[0] - tip[0], -tip[1])
    whole = box(0.0, 0.0, board.length_mm, board.width_mm)
    # The board is fed up to where the blade first touches it.
    blade = sorted((0.0, -bench.side * job.shop.saw.kerf_mm))
    far = board.length_mm + board.width_mm
    touched = moved(whole).intersection(box(blade[0], -far, blade[1], far)).bounds[3]
    root = ends[end].tail_length_mm
    first = 0.0 if end == "A" else board.length_mm - root
    tails = [tail_outline(board, end, n, bench.jig.slope) for n in range(1, len(ends[end].top_marks_mm) + 1)]
    waste = without(box(first, 0.0, first + root, board.width_mm), shapely.union_all(tails, grid_size=GRID_MM))

    def on_table(what: BaseGeometry) -> BaseGeometry:
        return affinity.translate(moved(what), 0.0, -touched)

    now = kerfs.pop((side.tail, side.faces.value))
    return Laid(
        said,
        on_table(whole),
        {key: on_table(kerf) for key, kerf in kerfs.items()},
        on_table(now),
        on_table(waste),
        affinity.translate(bench.jig_outline(), 0.0, -touched),
    )


@dataclass(frozen=True)
class _Motion:
    """From the board's own frame to the table, the corner at the jig on y = 0."""

    rotation: Matrix
    x: float
    y: float

    def __call__(self, what: BaseGeometry) -> BaseGeometry:
        (a, b, _), (d, e, _), _ = self.rotation
        return affinity.affine_transform(what, [a, b, d, e, self.x, self.y])


def _slot(board: Board, kerf: Kerf) -> BaseGeometry:
    return kerf.outline(board).intersection(box(0.0, 0.0, board.length_mm, board.width_mm))


def without(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """What is left of one; on a grid, since edges that agree to the last digit but one are sometimes overlooked."""
    return shapely.difference(one, other, grid_size=GRID_MM)


def same(outline: Sequence[tuple[float, float]], expected: BaseGeometry) -> bool:
    # By distance: laid over one another, polygons that agree to the last digit but one are sometimes found apart.
    return bool(shapely.hausdorff_distance(Polygon(outline), expected) < SAME_MM)


def compare(view: TableView, found: Shown, expected: Laid) -> None:
    """Everything that the drawing shows, with everything that it should."""
    assert (found.leads.value, str(found.at_jig), found.face_up.value) == expected.said
    assert same(found.board, expected.board)
    assert same(found.kerf_now, expected.kerf_now)
    assert same(found.jig, expected.jig)
    assert {(tail, faces.value) for tail, faces, _ in found.kerfs_made} == set(expected.kerfs_made)
    assert all(same(outline, expected.kerfs_made[tail, faces.value]) for tail, faces, outline in found.kerfs_made)
    wasted = list(getattr(expected.waste, "geoms", [expected.waste]))
    assert len(found.waste) == len(wasted)
    assert all(any(same(outline, piece) for piece in wasted) for outline in found.waste)
    assert abs(sum(Polygon(outline).area for outline in found.waste) - expected.waste.area) < SAME_MM2
    # The stop bears on the leading end's waste, clear of the blade, and the blade is where its kerf begins.
    stop, blade = Polygon(found.stop), Polygon(found.blade)
    assert stop.distance(expected.board) < 1e-6
    assert not stop.buffer(-1e-4).intersects(expected.board)
    assert stop.distance(blade) > 0
    assert blade.distance(expected.kerf_now) < 1e-6
    assert not blade.buffer(-1e-4).intersects(expected.board)


@given(jobs)
@CHECKED
def test_at_every_cut_the_drawing_shows_the_board_as_it_lies_with_its_kerfs(job: Job) -> None:
    for _, view, expected in at_each_cut(job):
        compare(view, shown(view), expected)


@pytest.mark.parametrize("wide_leads", [True, False])
def test_where_the_fence_changes_sides_in_mid_batch_the_drawing_goes_along(wide_leads: bool) -> None:
    jigs = [jig("short", 60.0, wide_leads=wide_leads), jig("long", 60.0)]
    tools = rigged_shop([fence(Hand.RIGHT, 190.0), fence(Hand.LEFT, 600.0, least_mm=150.0)], jigs)
    sides = set()
    for _, view, expected in at_each_cut(panel(tools, boards=1)):
        compare(view, shown(view), expected)
        assert view.rig is not None
        sides.add(view.rig[0].side)
    assert sides == set(Hand)


# What the signs of the cells stand for, by the styles in which each is used: the material, and in which halves of the
# cell it is at least in one.
BOTH, UP, DOWN = (0, 1), (0,), (1,)
SIGNS: dict[str, dict[str, tuple[str, tuple[int, ...]]]] = {
    "$wood on $wood": {"█": ("wood", BOTH), ".": ("wood", BOTH)},
    "$wood on $panel": {"╱": ("waste", BOTH), "/": ("waste", BOTH), "▀": ("wood", UP), "▄": ("wood", DOWN)},
    "$wood": {"▀": ("wood", UP), "▄": ("wood", DOWN)},
    "bold $cut": {
        **dict.fromkeys("▐▌█#", ("now", BOTH)),
        **dict.fromkeys("▗▖▄", ("now", DOWN)),
        **dict.fromkeys("▝▘▀", ("now", UP)),
    },
    "bold $foreground": {"│": ("made", BOTH), "|": ("made", BOTH), "╵": ("made", UP), "╷": ("made", DOWN)},
    "$quiet on $panel": {"░": ("jig", BOTH), ":": ("jig", BOTH)},
}


def cells_of(drawn: Sequence[Content]) -> Iterator[tuple[int, int, str, str]]:
    """Row, column, sign and style of every cell that isn't plain table."""
    for row, line in enumerate(drawn):
        for start, stop, style in line.spans:
            for column in range(start, stop):
                yield row, column, line.plain[column], str(style)


def off_mm(view: TableView, columns: int, rows: int, drawn: Sequence[Content], expected: Laid) -> dict[str, float]:
    """For each material the furthest that any of its cells is from it, in pixels."""
    frame = frame_of(view, columns, rows)
    materials = {
        "wood": without(expected.board, expected.waste),
        "waste": expected.waste,
        "now": expected.kerf_now,
        "made": shapely.union_all(list(expected.kerfs_made.values())),
        "jig": expected.jig,
    }
    places: dict[str, list[tuple[float, float, float, float]]] = {}
    for row, column, sign, style in cells_of(drawn):
        if (found := SIGNS.get(style, {}).get(sign)) is not None:
            name, halves = found
            points = [frame.at_mm(column, 2 * row + half) for half in halves]
            assert all(point is not None for point in points), f"{sign} stands in a gap"
            (x, y), (to_x, to_y) = points[0] or (0.0, 0.0), points[-1] or (0.0, 0.0)
            places.setdefault(name, []).append((x, y, to_x, to_y))
    off = {}
    for name, found_at in places.items():
        assert not materials[name].is_empty, f"{name} is drawn and there is none"
        upper = shapely.distance(shapely.points([(x, y) for x, y, _, _ in found_at]), materials[name])
        lower = shapely.distance(shapely.points([(x, y) for _, _, x, y in found_at]), materials[name])
        off[name] = float(max(map(min, upper, lower))) / frame.scale_mm
    return off


def too_far(off: dict[str, float]) -> set[str]:
    """What isn't where it should be: a kerf is drawn a pixel wide at least, so it may be off by as much."""
    return {name for name, pixels in off.items() if pixels > (1.0 if name in ("now", "made") else 0.01)}


@given(jobs, st.data())
@CHECKED
def test_every_cell_lies_on_what_it_stands_for_within_a_pixel(job: Job, data: st.DataObject) -> None:
    cuts = list(at_each_cut(job))
    for step, view, expected in data.draw(st.lists(st.sampled_from(cuts), min_size=1, max_size=4)):
        columns, rows = data.draw(st.sampled_from(SIZES))
        for plain in (False, True):
            off = off_mm(view, columns, rows, lines(view, columns, rows, plain=plain), expected)
            assert {"wood", "now", "jig"} <= set(off), f"at {step} not all is shown"
            assert not too_far(off), off


@given(jobs, st.data())
@CHECKED
def test_every_pixel_well_inside_waste_or_jig_or_wood_is_drawn_as_that(job: Job, data: st.DataObject) -> None:
    _, view, expected = data.draw(st.sampled_from(list(at_each_cut(job))))
    columns, rows = data.draw(st.sampled_from(SIZES))
    frame = frame_of(view, columns, rows)
    drawn = lines(view, columns, rows, plain=False)
    signs = {(row, column): (sign, style) for row, column, sign, style in cells_of(drawn)}
    kerfs = shapely.union_all([expected.kerf_now, *expected.kerfs_made.values()])
    allowed = {
        "waste": (without(expected.waste, kerfs.buffer(2 * frame.scale_mm)), "╱"),
        "wood": (without(without(expected.board, expected.waste), kerfs.buffer(2 * frame.scale_mm)), "█╌"),
        "jig": (without(expected.jig, expected.board), "░▒"),
    }
    for name, (material, glyphs) in allowed.items():
        inside = material.buffer(-1.5 * frame.scale_mm)
        for row in range(rows - 1):
            for column in range(columns):
                point = frame.at_mm(column, 2 * row)
                if point is None or not shapely.contains_xy(inside, *point):
                    continue
                sign, style = signs.get((row, column), (" ", ""))
                words = re.fullmatch(r"[\w ]", sign) is not None and style != ""
                broken = column in (0, columns - 1) and sign in "╱╲"
                assert words or broken or sign in glyphs, f"{name} at row {row}, column {column} is drawn as {sign!r}"


@pytest.mark.parametrize("side", list(Hand))
@pytest.mark.parametrize("wide_leads", [True, False])
@pytest.mark.parametrize("size", [(30, 7), (44, 9), (76, 12)])
def test_a_board_of_which_only_a_part_fits_is_in_its_place_as_well(
    size: tuple[int, int], wide_leads: bool, side: Hand
) -> None:
    tools = rigged_shop([fence(side, 900.0)], [jig("a", 60.0, wide_leads=wide_leads)])
    for step, view, expected in at_each_cut(panel(tools, boards=1, width_mm=450.0, tails=9, ends="A")):
        off = off_mm(view, *size, lines(view, *size, plain=False), expected)
        assert {"wood", "now"} <= set(off), f"at {step} not all is shown"
        assert not too_far(off), off


@pytest.mark.parametrize("other", ["end", "edge"])
def test_a_drawing_of_a_board_that_lies_otherwise_would_be_noticed(other: str) -> None:
    tools = rigged_shop([fence(Hand.RIGHT, 600.0)], [jig("a", 60.0)])
    _, view, expected = next(at_each_cut(panel(tools, boards=1)))
    compare(view, shown(view), expected)
    lie = view.lie._replace(end=view.lie.end.other) if other == "end" else view.lie.across()
    with pytest.raises(AssertionError):
        compare(view, shown(replace(view, lie=lie)), expected)
