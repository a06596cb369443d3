"""What is said of a cut that went wrong is borne out by the wood that is left, by Shapely and rigid motion."""

from __future__ import annotations

from support.mistakes import SOUND, Case, cases, contradicted, counted, told
from support.small_jobs import job, joint, part, shop

from coach.ground.terms import Edge, End, Side
from coach.plan.judging.mistakes import Mistake, Verdict


def test_a_hundred_mistakes_are_judged_as_the_wood_shows() -> None:
    found = [contradicted(case) for case in cases(17, 100)]
    assert [why for _, why in found if why] == []
    assert {verdict for verdict, _ in found} == set(Verdict), counted(found)


def test_a_tail_cut_through_is_spoiled_although_the_tolerance_is_wider_than_the_kerf() -> None:
    # A scale in 1/16 in and a blade of 1/32 in: half a graduation is as much as the kerf takes.
    ends = {End.A: joint((5.0, 30.5)), End.B: joint((14.0, 38.0))}
    for tools, tolerance_mm in ((shop(kerf_mm=25.4 / 32, graduation_mm="127/80"), None), (shop(), 1.0)):
        made = job([part(ends)], tools, tolerance_mm=tolerance_mm)
        case = Case(made, Side(1, End.B, 1, Edge.TOP), Mistake.WRONG_END, 0.0)
        verdict = told(case)[1]
        assert verdict.verdict is Verdict.SPOILED
        assert verdict.lines == ("The kerf goes right through tail 1 at end A: the tail is cut through.",)


def test_a_kerf_twenty_millimetres_out_in_the_next_tail_spoils_the_board_at_any_tolerance() -> None:
    made = job([part({End.A: joint((5.0, 30.5))})], tolerance_mm=2.0)
    case = Case(made, Side(1, End.A, 2, Edge.TOP), Mistake.OFF_LINE, -20.0)
    said = told(case)[1]
    assert said.verdict not in SOUND
    assert "cut through" in said.lines[0]
