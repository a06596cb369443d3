"""What a step asks of the person, in words."""

from __future__ import annotations

import pytest
from support.small_jobs import job, joint, part, shop, two_tails

from coach.ground.lengths import Graduation
from coach.ground.terms import Edge, End, Face, Hand, Joint, Side, Turn
from coach.joint.layout import EndLayout
from coach.plan.deciding.decide import decide
from coach.plan.job import Job
from coach.plan.steps import BENCH_KINDS, FIRST_TOPICS, RETURN_TOPICS, Step, StepKind
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker
from coach.telling.naming import board_name, side_words
from coach.telling.phrases import TURN_CHANGES, TURN_WORDS, Saying
from coach.telling.steps.step import Told, briefly, lie_words, tell

MM = Saying("mm", None)


def walker(boards: Job | None = None) -> Walker:
    """A walk at its beginning."""
    found = boards or two_tails(boards=2)
    return Walker(beginning(found, decide(found)))


def step_now(walk: Walker) -> Step:
    """The step to do now."""
    step = walk.peek()
    assert step is not None
    return step


def go_to(walk: Walker, kind: StepKind) -> Step:
    """Goes on to the next step of a kind."""
    while step_now(walk).kind is not kind:
        walk.advance(step_now(walk))
    return step_now(walk)


def told_at(walk: Walker, kind: StepKind, saying: Saying = MM) -> Told:
    """The next step of a kind in words."""
    return tell(walk, go_to(walk, kind), saying)


def all_told(boards: Job, saying: Saying = MM) -> list[tuple[Step, Told]]:
    """Every step of a batch in words."""
    walk = walker(boards)
    found = []
    while (step := walk.peek()) is not None:
        found.append((step, tell(walk, step, saying)))
        walk.advance(step)
    return found


def test_every_kind_of_step_is_told_with_a_headline_and_particulars() -> None:
    told = all_told(two_tails(boards=2))
    assert {step.kind for step, _ in told} == set(StepKind)
    assert all(words.kind and words.headline and all(words.lines) for _, words in told)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (StepKind.PREPARE, "Prepare"),
        (StepKind.SET_FENCE, "Setting 1 of 2"),
        (StepKind.CHECK, "Scrap cut"),
        (StepKind.CUT, "Cut"),
        (StepKind.CLEAR, "Clear the waste"),
        (StepKind.TRANSFER, "Mark the pins"),
        (StepKind.SAW_PIN, "Saw the pins"),
        (StepKind.FIT, "Fit the corner"),
    ],
)
def test_a_step_is_called_what_it_is(kind: StepKind, words: str) -> None:
    assert told_at(walker(), kind).kind == words


def test_each_topic_to_prepare_has_a_checklist_of_its_own() -> None:
    walk = walker()
    told = [tell(walk, Step(StepKind.PREPARE, topic=topic), MM) for topic in (*FIRST_TOPICS, *RETURN_TOPICS)]
    assert len({(words.headline, words.lines) for words in told}) == len(told)


def test_the_fence_is_set_to_its_reading() -> None:
    # By hand: 80 + 30.5 · 8/√65 − 0.9 = 109.364 mm.
    assert told_at(walker(), StepKind.SET_FENCE).headline == "Set the fence to 109.36 mm"


def test_the_reading_is_shown_on_the_fences_own_scale() -> None:
    boards = two_tails(shop(graduation_mm="0.5"), boards=2)
    scale = boards.shop.fence.graduation
    told = told_at(walker(boards), StepKind.SET_FENCE, Saying("mm", scale))
    # By hand: 109.364 mm is nearest to 109.5 mm among halves, and within the quarter that half a graduation allows.
    assert told.headline == "Set the fence to 109.5 mm"


def test_the_reading_counts_from_the_scales_own_zero() -> None:
    boards = two_tails(shop(zero_mm=3.0), boards=2)
    assert told_at(walker(boards), StepKind.SET_FENCE).headline == "Set the fence to 112.36 mm"


def test_the_first_setting_moves_from_nowhere() -> None:
    assert told_at(walker(), StepKind.SET_FENCE).lines[0] == ("Fence at right of blade, by measuring.")


def test_a_later_setting_says_how_far_the_fence_moves_and_which_way() -> None:
    walk = walker()
    go_to(walk, StepKind.SET_FENCE)
    walk.advance(step_now(walk))
    # By hand: from the mark 30.5 to the mark 5, (5 − 30.5) · 8/√65 = −25.303 mm.
    assert told_at(walk, StepKind.SET_FENCE).lines[0] == "Move it 25.3 mm towards the blade."


def test_after_a_scrap_cut_too_near_the_edge_the_fence_moves_away_from_the_blade() -> None:
    walk = walker()
    check = go_to(walk, StepKind.CHECK)
    assert check.mark_mm is not None
    walk.advance(check, check.mark_mm - 1.0)
    told = tell(walk, step_now(walk), MM)
    # By hand: 1 · 8/√65 = 0.992 mm; 109.364 + 0.992 = 110.357.
    assert told.headline == "Set the fence to 110.36 mm"
    assert told.lines[0] == "Move it 0.99 mm away from the blade."
    assert told.lines[-1] == "Corrected by the scrap cut: +0.99 mm."


def test_a_correction_towards_the_blade_has_a_minus_sign() -> None:
    walk = walker()
    check = go_to(walk, StepKind.CHECK)
    assert check.mark_mm is not None
    walk.advance(check, check.mark_mm + 1.0)
    assert tell(walk, step_now(walk), MM).lines[-1].endswith("−0.99 mm.")


def test_a_fence_doubted_after_a_break_is_looked_at_where_it_stands() -> None:
    walk = walker()
    go_to(walk, StepKind.CUT)
    walk.come_back()
    assert told_at(walk, StepKind.SET_FENCE).lines[0].startswith("Left here")


def test_a_setting_says_how_many_cuts_it_serves_on_how_many_boards() -> None:
    assert "Serves 8 cuts on 2 boards." in told_at(walker(), StepKind.SET_FENCE).lines


def test_a_setting_that_serves_one_cut_says_so_in_the_singular() -> None:
    one = part({End.A: joint((5.0,), (7.0,))}, width_mm=40.0)
    assert "Serves 1 cut on 1 board." in told_at(walker(job([one])), StepKind.SET_FENCE).lines


@pytest.mark.parametrize(("wide_leads", "words"), [(True, "wide end leading"), (False, "narrow end leading")])
def test_a_setting_says_which_end_of_the_jig_leads(wide_leads: bool, words: str) -> None:
    boards = two_tails(shop(wide_leads=wide_leads))
    assert words in told_at(walker(boards), StepKind.SET_FENCE).lines[1]


@pytest.mark.parametrize(
    ("wide_leads", "headline", "side"),
    [(True, "Cut scrap and measure: 30.5 mm", "far"), (False, "Cut scrap and measure: 52 mm", "near")],
)
def test_a_scrap_cut_says_what_to_find_at_which_side_of_the_kerf(wide_leads: bool, headline: str, side: str) -> None:
    # By hand: with a narrow end leading, marks count from the edge that a side faces away from: 57 − 5 mm.
    told = told_at(walker(two_tails(shop(wide_leads=wide_leads))), StepKind.CHECK)
    assert told.headline == headline
    assert told.lines[0].startswith(f"From the edge at the jig to the {side} side of the kerf")


def test_a_cut_names_board_end_tail_and_side() -> None:
    assert told_at(walker(), StepKind.CUT).headline == "side 1: end A, tail 2, top side"


def test_a_cut_says_how_the_board_lies_with_the_mark_and_the_length_of_the_cut() -> None:
    told = told_at(walker(), StepKind.CUT)
    assert told.lines[0] == "Take side 1 from the pile and lay it so:"
    assert told.lines[1] == "End A leads, TOP edge at the jig, OUTSIDE face up."
    # By hand: 12 · √65/8 = 12.093 mm.
    assert told.lines[2] == "Mark 30.5 mm from the top edge; cut 12.09 mm."


def test_every_cut_after_a_boards_first_says_what_to_do_and_what_is_different_then() -> None:
    met = set()
    lying: set[int] = set()
    in_hand = None
    for step, told in all_told(two_tails(boards=2)):
        if step.kind is StepKind.SET_FENCE:
            in_hand = None
        if step.side is None:
            continue
        from_pile = f"Take side {step.side.board} from the pile"
        if step.turn is not None:
            met.add(step.turn)
            motion = TURN_WORDS[step.turn]
            in_full = f"{motion[0].upper()}{motion[1:]}: {TURN_CHANGES[step.turn]}."
            new = step.side.board != in_hand
            assert told.lines[0] == (f"{from_pile}; {motion}." if new else in_full)
        elif step.side.board in lying:
            assert told.lines[0] == f"{from_pile} as it lies: no turn."
        lying.add(step.side.board)
        in_hand = step.side.board
    assert {Turn.EDGE_FOR_EDGE, Turn.END_FOR_END} <= met


def test_another_board_than_the_one_in_hand_is_announced_before_its_turn() -> None:
    ends = {End.A: joint((5.0, 27.0), (6.0, 31.2)), End.B: joint((8.0,), (9.5,), mates_with_mm=15.0)}
    walk = walker(job([part(ends, boards=4, handed=True)]))
    announced = 0
    while (step := walk.peek()) is not None:
        told = tell(walk, step, MM)
        if step.side is not None:
            new = step.side.board != walk.in_hand
            assert (f"Take side {step.side.board} from the pile" in told.lines[0]) is new
            announced += new and step.turn is not None
        walk.advance(step)
    assert announced, "boards that are taken up again and turned at once"


@pytest.mark.parametrize(
    ("turn", "named", "changes"),
    [
        (Turn.EDGE_FOR_EDGE, "edge for edge", {"other edge", "other face", "same end"}),
        (Turn.END_FOR_END, "end for end", {"other end", "other edge", "same face"}),
        (Turn.END_OVER_END, "end over end", {"other end", "other face", "same edge"}),
    ],
)
def test_a_turn_is_named_and_says_what_it_changes(turn: Turn, named: str, changes: set[str]) -> None:
    assert TURN_WORDS[turn].endswith(named)
    assert set(TURN_CHANGES[turn].split(", ")) == changes


@pytest.mark.parametrize("face", list(Face))
@pytest.mark.parametrize("edge", list(Edge))
@pytest.mark.parametrize("end", list(End))
def test_how_a_board_lies_names_end_edge_and_face(end: End, edge: Edge, face: Face) -> None:
    step = Step(StepKind.CUT, side=Side(1, end, 1, edge), edge=edge, face_up=face)
    assert lie_words(step) == f"End {end} leads, {edge.upper()} edge at the jig, {face.upper()} face up."


@pytest.mark.parametrize("kind", BENCH_KINDS[1:])
def test_a_step_at_the_bench_names_the_corner_that_stands_on_both_boards(kind: StepKind) -> None:
    told = told_at(walker(), kind)
    assert told.headline == "side 1, end A"
    assert "“side 1 A”" in " ".join(told.lines)


def test_pins_that_are_half_blind_are_sawn_by_hand_as_far_as_the_lap() -> None:
    end = EndLayout(Joint.HALF_BLIND, 16.0, 4.0, 0.0, (5.0, 30.5), (5.0, 30.5))
    lines = told_at(walker(job([part({End.A: end})])), StepKind.SAW_PIN).lines
    assert "half-blind: aslant by hand, to baseline and lap line, never into the lap (4 mm); chop the rest" in lines[0]


def test_pins_of_a_through_joint_are_told_of_no_lap() -> None:
    assert len(told_at(walker(), StepKind.SAW_PIN).lines) == 1


def test_clearing_says_how_many_sockets_there_are() -> None:
    assert told_at(walker(), StepKind.CLEAR).lines[0].startswith("3 sockets out to the baseline")


def test_a_board_says_its_hand_and_whether_it_is_a_spare() -> None:
    end = joint((5.0, 30.5))
    walk = walker(job([part({End.A: end, End.B: end}, boards=2, spares=1, handed=True)]))
    assert [board_name(walk, number) for number in (1, 2, 3)] == [
        "side 1 (left)",
        "side 2 (right)",
        "side 3 (left, spare)",
    ]


def test_a_fence_at_the_left_is_told_so() -> None:
    boards = two_tails(shop(fence_side=Hand.LEFT, column_side=Hand.RIGHT))
    told = told_at(walker(boards), StepKind.SET_FENCE)
    assert told.lines[0].startswith("Fence at left of blade")


@pytest.mark.parametrize("label", ["[bold]x[/]", "[/]", "$primary", "\\[x]", "a & b <i>"])
def test_a_label_is_said_as_it_was_written(label: str) -> None:
    boards = _labelled(label)
    for step, told in all_told(boards):
        if step.kind is StepKind.CUT or step.kind in BENCH_KINDS:
            assert told.headline.startswith(f"{label} 1")


def test_a_step_in_few_words_says_what_matters() -> None:
    walk = walker()
    found = []
    while (step := walk.peek()) is not None:
        found.append(briefly(walk, step, MM))
        walk.advance(step)
    assert found[0] == "prepare: The saw, its table and its fence"
    assert found[6:10] == [
        "fence to 109.36 mm (setting 1)",
        "a cut on scrap, measured",
        "side 1: end A, tail 2, top side",
        "side 1, edge-for-edge: end A, tail 1, bottom side",
    ]
    assert found[-1] == "side 2, end B: fit the corner"


def test_after_the_last_step_the_batch_is_done() -> None:
    assert briefly(walker(), None, MM) == "the batch is done"


def test_a_side_is_named_without_its_board() -> None:
    assert side_words(Side(3, End.B, 2, Edge.BOTTOM)) == "end B, tail 2, bottom side"


def test_lengths_of_wood_are_in_the_unit_asked_and_readings_in_the_scales() -> None:
    boards = two_tails(shop(graduation_mm="0.5"), boards=1)
    saying = Saying("in", boards.shop.fence.graduation)
    assert isinstance(saying.graduation, Graduation)
    walk = walker(boards)
    assert told_at(walk, StepKind.SET_FENCE, saying).headline.endswith(" mm")
    # By hand: 12.093 / 25.4 = 0.476 in.
    assert told_at(walk, StepKind.CUT, saying).lines[2].endswith("; cut 0.476 in.")


def _labelled(label: str) -> Job:
    end: EndLayout = joint((5.0, 30.5))
    return job([part({End.A: end, End.B: end}, label=label)])
