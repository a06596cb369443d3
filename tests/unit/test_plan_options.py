"""What coach plan says when asked why, for spacers, for a stop block, or for another order."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest
from support.plain_files import Keys, layout_text, live_in, shop_text

from coach.cli import main
from coach.ground import places
from coach.ground.places import sample_layouts_folder
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.tui.app import CoachApp

OPTIONS = ("--why", "--spacers", "--stop-block")
EVEN: Keys = {"width": '"130.56 mm"', "tails": "4", "half_pin": '"5 mm"', "pin": '"4 mm"'}  # at a pitch of 31.14 mm
BLOCKS = '[[blocks]]\nlength = "10 mm"\ncount = 3\n[[blocks]]\nlength = "0.9 mm"\n'


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    live_in(tmp_path, monkeypatch)
    return tmp_path


def written(folder: Path, part: Keys | None = None, more: str = "", *, shop: str = "") -> list[str]:
    """A layout and a shop without a scale, as the words of a command line."""
    (folder / "drawers.toml").write_text(layout_text(part, more=more), encoding="utf-8")
    (folder / "shop.toml").write_text(shop_text() + shop, encoding="utf-8")
    return [str(folder / "drawers.toml"), "--shop", str(folder / "shop.toml")]


def said(capsys: pytest.CaptureFixture[str], *argv: str, code: int = 0) -> str:
    assert main(["plan", *argv]) == code
    return capsys.readouterr().out


def as_json(capsys: pytest.CaptureFixture[str], *argv: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(said(capsys, "--json", *argv))
    return found


def test_why_names_a_side_for_each_setting(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, *written(folder), "--why")
    assert "1  side, end A, tail 1, bottom side, 30.5 mm from the bottom edge:" in out
    assert "2  side, end A, tail 1, top side, 5 mm from the top edge:" in out
    assert "So 2 settings are the fewest that there can be, and the plan has 2." in out


def test_why_says_what_rounding_does_to_tails_and_sockets(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # By hand, on the sample shop's scale of 0.5 mm: F = 80 + 5·cos θ − 0.9 = 84.0614, rounded to 84, shifts the mark by
    # −0.06 mm; 109.3645, rounded to 109.5, by +0.14 mm: the tail is 0.14 − 0.06 narrower, the socket 2 · 0.14 wider.
    out = said(capsys, written(folder)[0], "--why")
    assert "1  5 mm      −0.06 mm  30.5 mm      +0.14 mm  0.07 mm narrower" in out
    assert "0.06 mm narrower; 0.27 mm wider; 0.06 mm narrower" in " ".join(out.split())


def test_why_says_so_where_nothing_is_rounded(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "Nothing: every setting stands where its marks are." in said(capsys, *written(folder), "--why")


@pytest.mark.parametrize("sample", ["shallow-drawers", "graduated-set", "handed-sides", "from-marks"])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_every_answer_fits_a_page_of_eighty_columns(
    folder: Path, capsys: pytest.CaptureFixture[str], sample: str, units: str
) -> None:
    layout = sample_layouts_folder() / f"{sample}.toml"
    out = said(capsys, str(layout), *OPTIONS, "--units", units)
    assert max(map(len, out.splitlines())) <= 80


def test_with_the_longest_label_every_answer_still_fits(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    label = "a very long label of a part that somebody took time to write"
    out = said(capsys, *written(folder, {"label": f'"{label}"'}, shop=BLOCKS), *OPTIONS)
    assert max(map(len, out.splitlines())) <= 80
    assert label.split()[-1] in out


def test_json_holds_the_answers_that_were_asked_for(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = written(folder)
    assert not {"why", "spacers", "stop_block"} & as_json(capsys, *words).keys()
    assert {"why", "spacers", "stop_block"} <= as_json(capsys, *words, *OPTIONS).keys()


def test_json_says_why_with_disjoint_ranges(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    why = as_json(capsys, written(folder)[0], "--why")["why"]
    assert (why["settings"], why["fewest"], why["proven"]) == (2, 2, True)
    far, near = why["sides"]
    assert near["fence_to_mm"] < far["fence_from_mm"]
    assert all(turns["proven"] and turns["cost_s"] == turns["least_cost_s"] for turns in why["turns"])


def test_totals_in_json_count_moves_pick_ups_and_turns_and_cost_them(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # By hand: 4 boards, 2 settings, 8 cuts and 6 turns a board, two of which swing 380 mm.
    shop = "[handling]\nfence_move = 100\npick_up = 10\nedge_for_edge = 1\nend_for_end = 2\nend_over_end = 3\n"
    totals = as_json(capsys, *written(folder, shop=shop + "swing_per_metre = 1\nswitch_off = 0.5\n"))["totals"]
    assert (totals["moves"], totals["pick_ups"], totals["switch_offs"]) == (2, 8, 32)
    assert totals["turns"] == {"edge-for-edge": 16, "end-for-end": 8, "end-over-end": 0}
    assert totals["costs_s"] == {"fence_moves": 200, "pick_ups": 80, "turns": 16 + 8 * 2.38, "switch_offs": 16}
    assert totals["cost_s"] == 200 + 80 + 16 + 8 * 2.38 + 16


def test_costs_of_handling_choose_the_turns(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    totals = as_json(capsys, *written(folder, shop="[handling]\nend_over_end = 0\nswing_per_metre = 0\n"))["totals"]
    assert totals["turns"]["end-over-end"] == 16


def test_evenly_pitched_settings_take_three_spacers_of_one_length(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # By hand: 31.14 mm · 8/√65 = 30.8995 mm.
    out = said(capsys, *written(folder, EVEN), "--spacers")
    assert "Make 3 spacers of 30.9 mm." in out
    assert "your own blocks" not in out


def test_ones_own_blocks_are_stacked(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, *written(folder, EVEN, shop=BLOCKS), "--spacers")
    assert out.count("30.9 mm  3 × 10 mm + 0.9 mm  next to nothing") == 3


def test_what_blocks_cannot_make_is_said_with_how_near_they_get(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # By hand: 25.303 mm is 5.303 mm more than 10 + 10 and 4.697 mm less than 10 + 10 + 10.
    out = said(capsys, *written(folder, shop='[[blocks]]\nlength = "10 mm"\ncount = 3\n'), "--spacers")
    assert "Not within tolerance, though no stack of these comes nearer: setting 2 (4.7 mm" in out


def test_a_stop_block_goes_with_the_sine(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, *written(folder), "--stop-block")
    assert "One stop serves: all tails are 12 mm long, and each cut is 12.09 mm long" in out
    assert "2  5 mm     3.16 mm towards you" in out


def test_unlike_ends_are_said_to_need_two_stops(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    front = '[parts.end_A]\njoint = "half-blind"\nmates_with = "20 mm"\nlap = "5 mm"\n'
    out = said(capsys, *written(folder, more=front), "--stop-block")
    assert "2 stops are needed" in out
    assert "stop 2, 3.02 mm further from you than stop 1: tails 15 mm long" in out


def test_the_order_of_the_settings_and_what_it_means_is_on_the_page(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = written(folder)
    assert "Largest mark first: the corner on which stop and jig bear stays solid" in said(capsys, *words)
    out = said(capsys, *words, "--smallest-first")
    assert "Smallest mark first: from the first setting on there is a kerf beside the corner" in out
    assert out.index("84.06 mm") < out.index("109.36 mm")


def test_with_a_narrow_leading_jig_the_smallest_mark_first_keeps_the_corner_solid(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = written(folder)
    (folder / "shop.toml").write_text(shop_text(jig={"leading_end": '"narrow"'}), encoding="utf-8")
    assert "Largest mark first: from the first setting on" in said(capsys, *words)
    assert "Smallest mark first: the corner on which" in said(capsys, *words, "--smallest-first")


def run_in_terminal(*argv: str) -> int:
    """`coach run` with streams that pass for a terminal and an app that doesn't open."""

    def closed(app: CoachApp) -> int:
        return 0

    with pytest.MonkeyPatch.context() as patch:
        for name in ("stdin", "stdout", "stderr"):
            patch.setattr(getattr(sys, name), "isatty", lambda: True)
        patch.setattr(CoachApp, "run_to_end", closed)
        return main(["run", *argv])


def test_a_batch_is_begun_with_the_smallest_mark_and_keeps_that(folder: Path) -> None:
    words = written(folder)
    assert run_in_terminal(*words, "--smallest-first", "--batch", "up") == 0
    assert run_in_terminal("--batch", "up") == 0
    with Store.open(places.data_folder()) as store:
        row = store.batch_named("up")
        assert row is not None
        kept = Session(store, row).walker.settings
    assert kept.smallest_first
    assert list(kept.fence_mm) == sorted(kept.fence_mm)


def test_a_batch_that_goes_the_other_way_is_not_turned_round(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = written(folder)
    assert run_in_terminal(*words, "--batch", "down") == 0
    assert run_in_terminal(*words, "--batch", "down", "--smallest-first") == 1
    assert "a batch called “down” is under way with the largest mark first." in capsys.readouterr().err


def test_the_order_can_only_be_chosen_for_a_new_batch(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", "--batch", "down", "--smallest-first"]) == 2
    assert "--smallest-first goes with a LAYOUT" in capsys.readouterr().err
