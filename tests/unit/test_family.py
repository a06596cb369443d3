"""Families of drawers: the fewest settings against every layout there is, and what is said and written."""

from __future__ import annotations

import math
import signal
import subprocess
import sys
import threading
import tomllib
from pathlib import Path
from subprocess import PIPE

import pytest
from support.family_texts import FAMILY, SIX_WIDTHS, Ranges, family_text, fewest_and_evenest
from support.plain_files import Keys, live_in, shop_text
from support.plain_layout import read_parts, read_shop
from support.proposals import coach, off_graduations_mm, read, sawn
from support.small_jobs import plain
from support.small_jobs import shop as small_shop

from coach.ground.errors import CoachError
from coach.ground.lengths import show_length
from coach.loading import load
from coach.propose.bounds import bounds_of
from coach.propose.family import Proposal, propose
from coach.propose.family_file import parse_family
from coach.propose.family_model import solve
from coach.propose.graduations import Graduations
from coach.shop.files import parse_shop

MOST_WORK = 60.0  # in the solver's own measure, the same on every computer: some hundred times what is needed
HARD = ", ".join(f'"{width} mm"' for width in range(60, 200, 10))
COARSE: Keys = {
    "widths": '["48 mm", "62 mm", "68 mm"]',
    "half_pin": '["1.6 mm", "3.2 mm"]',
    "tail": '["12.5 mm", "22.8 mm"]',
    "pin": '["4 mm", "9 mm"]',
    "ratio": "1.2",
}


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    live_in(tmp_path, monkeypatch)


def mm(length: float) -> str:
    return show_length(length, "mm")


def proposed(family: str, shop: str) -> Proposal:
    return propose(parse_family("chest.toml", family), parse_shop("shop.toml", shop), mm, most_work=MOST_WORK)


def scale(step: str, jig: Keys | None = None, **fence: str) -> str:
    return shop_text(fence={"scale": f'"{step}"', **{key: f'"{value}"' for key, value in fence.items()}}, jig=jig)


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    file = tmp_path / "my-shop.toml"
    file.write_text(scale("0.5 mm"), encoding="utf-8")
    return file


def family_of(folder: Path, changed: Keys | None = None, more: str = "") -> Path:
    file = folder / "chest.toml"
    file.write_text(family_text(changed, more), encoding="utf-8")
    return file


TINY = [
    ((57, 76), (4, 7), (18, 32), (3, 8), 1.5, "2 mm", "wide"),
    ((57, 76), (4, 7), (18, 32), (3, 6), 1.5, "1/16 in", "narrow"),
    ((40, 52, 61), (3, 8), (14, 24), (2, 7), 1.2, "2 mm", "wide"),
    ((50, 62, 74), (4, 9), (10, 30), (3, 9), 2.0, "3 mm", "wide"),
    ((48, 60, 72), (4, 9), (14, 30), (2, 9), 1.4, "2.5 mm", "narrow"),
    ((38, 62, 80), (2, 6), (12, 22), (3, 8), 1.3, "2 mm", "wide"),
]


@pytest.mark.parametrize(("widths", "half_pin", "tail", "pin", "ratio", "step", "leading_end"), TINY)
def test_a_small_family_has_the_fewest_settings_and_the_evenest_tails_of_all_layouts_there_are(
    widths: tuple[float, ...],
    half_pin: tuple[float, float],
    tail: tuple[float, float],
    pin: tuple[float, float],
    ratio: float,
    step: str,
    leading_end: str,
) -> None:
    def between(low: float, high: float) -> str:
        return f'["{low} mm", "{high} mm"]'

    text = family_text({
        "widths": f"[{', '.join(f'{chr(34)}{width} mm{chr(34)}' for width in widths)}]",
        "half_pin": between(*half_pin),
        "tail": between(*tail),
        "pin": between(*pin),
        "ratio": str(ratio),
    })  # fmt: skip
    shop = scale(step, {"leading_end": f'"{leading_end}"'}, zero="1.3 mm")
    found = proposed(text, shop)
    plain = read_shop(tomllib.loads(shop))
    ranges = Ranges(widths, half_pin, tail, pin, ratio, 12.0)
    settings, uneven = fewest_and_evenest(ranges, plain, plain.graduation_mm, 1.3)
    assert found.found.fewest and found.found.evenest
    assert found.found.settings == len(found.settings.fence_mm) == settings
    assert found.found.worth[1] * plain.graduation_mm / math.cos(plain.jig.slope) == pytest.approx(uneven, abs=1e-6)


@pytest.mark.parametrize(
    ("step", "leading_end"), [("0.5 mm", "wide"), ("1/32 in", "wide"), ("none", "wide"), ("1/64 in", "narrow")]
)
def test_six_widths_are_proven_and_their_files_sawn_by_the_independent_saw(
    tmp_path: Path, step: str, leading_end: str
) -> None:
    shop = tmp_path / "my-shop.toml"
    shop.write_text(scale(step, {"leading_end": f'"{leading_end}"'}), encoding="utf-8")
    text = family_text({"widths": SIX_WIDTHS, "ratio": "1.5"})
    found = proposed(text, shop.read_text(encoding="utf-8"))
    assert found.found.fewest and found.found.evenest
    files = [tmp_path / f"{number}.toml" for number in range(6)]
    for file, layout in zip(files, found.texts, strict=True):
        file.write_text(layout, encoding="utf-8")
    settings = sawn(files, shop)
    assert len(settings) == found.found.settings <= found.even
    assert off_graduations_mm(settings, shop, 0.5 if step == "none" else None) < 0.001


def test_a_family_that_no_layout_on_graduations_fits_is_refused() -> None:
    shop = scale("2 mm", zero="1.3 mm")
    ranges = Ranges((57, 76), (4, 7), (18, 32), (3, 6), 1.5, 12.0)
    assert fewest_and_evenest(ranges, read_shop(tomllib.loads(shop)), 2.0, 1.3) == (10**9, math.inf)
    with pytest.raises(CoachError, match="no marks on graduations keep a board 57 mm wide within the ranges"):
        proposed(family_text({"ratio": "1.5"}), shop)


def test_layouts_keep_to_the_ranges_and_are_symmetrical(tmp_path: Path, shop: Path) -> None:
    family = family_of(tmp_path, {"widths": SIX_WIDTHS, "ratio": "1.5"})
    assert coach("family", family, "--shop", shop, "--write", tmp_path / "chest").code == 0
    for number in range(1, 7):
        (part,) = read_parts(read(tmp_path / "chest" / f"drawer-{number}.toml"))
        top, bottom = part.ends["A"].top_marks_mm, part.ends["A"].bottom_marks_mm
        tails = [part.width_mm - t - b for t, b in zip(top, reversed(bottom), strict=True)]
        pins = [t + b - part.width_mm for t, b in zip(top[1:], reversed(bottom[1:]), strict=True)]
        assert top == bottom
        assert 4 <= top[0] <= 7 and all(3 <= pin <= 6 for pin in pins)
        assert all(18 <= tail <= 32 for tail in tails) and max(tails) <= 1.5 * min(tails)


@pytest.mark.parametrize(
    "widths", ['["57 mm"]', '["57 mm", "63 mm"]', '["90 mm", "114 mm", "138 mm"]', '["2 1/2 in", "3 in", "3 1/2 in"]']
)
@pytest.mark.parametrize("step", ["0.5 mm", "1/32 in", "none"])
def test_a_family_never_needs_more_settings_than_evenly_spaced_tails(widths: str, step: str) -> None:
    found = proposed(family_text({"widths": widths}), scale(step))
    assert found.found.settings <= found.even


def test_where_even_spacing_needs_fewer_since_its_marks_share_settings_beside_graduations_that_is_said(
    tmp_path: Path,
) -> None:
    shop = tmp_path / "my-shop.toml"
    shop.write_text(scale("2.5 mm", zero="1.3 mm"), encoding="utf-8")
    family = family_of(tmp_path, COARSE)
    ran = coach("family", family, "--shop", shop)
    assert "would need 5, of which some serve marks beside graduations\n" in ran.out


def test_a_family_has_the_same_layouts_whenever_it_is_asked_for() -> None:
    text = family_text({"widths": SIX_WIDTHS, "ratio": "1.5"})
    assert proposed(text, scale("0.5 mm")).texts == proposed(text, scale("0.5 mm")).texts


def test_a_half_pin_socket_of_one_width_goes_to_the_nearest_graduation() -> None:
    found = proposed(family_text({"half_pin": '"5 mm"'}), scale("0.5 mm"))
    for layout in found.layouts:
        for joint in layout.parts[0].ends.values():
            assert joint.top_marks_mm[0] == pytest.approx(4.9382, abs=1e-4)


def test_what_is_said_counts_settings_and_compares_with_even_spacing(tmp_path: Path, shop: Path) -> None:
    ran = coach("family", family_of(tmp_path, {"widths": SIX_WIDTHS, "ratio": "1.5"}), "--shop", shop)
    assert ran.code == 0
    assert "10 fence settings: no symmetrical layouts within these ranges and with every mark on graduations" in ran.out
    assert "evenly spaced tails, as many on each board, would need 13" in ran.out
    assert "the evenest tails, proven" in ran.out
    assert "nothing was written" in ran.out


def test_progress_is_said_on_the_other_stream(tmp_path: Path, shop: Path) -> None:
    ran = coach("family", family_of(tmp_path, {"widths": SIX_WIDTHS}), "--shop", shop)
    assert "not enough: 9 settings\n" in ran.err and "\nenough: 10 settings\n" in ran.err
    assert "not enough" not in ran.out


def test_without_a_scale_the_grid_is_said(tmp_path: Path) -> None:
    shop = tmp_path / "my-shop.toml"
    shop.write_text(shop_text(), encoding="utf-8")
    ran = coach("family", family_of(tmp_path), "--shop", shop)
    assert "the fence has no scale, so its settings are taken from a grid of 0.5 mm of its travel\n" in ran.out


def test_a_range_that_the_blade_narrows_is_said(tmp_path: Path, shop: Path) -> None:
    ran = coach("family", family_of(tmp_path, {"pin": '["0.2 mm", "6 mm"]'}), "--shop", shop)
    assert "pins were taken from 0.91 mm on, since the kerf takes 0.91 mm along the end\n" in ran.out


def test_files_are_taken_by_check_and_cut_in_one_batch(tmp_path: Path, shop: Path) -> None:
    family = family_of(tmp_path, {"boards": "4", "spares": "1", "slope": '"1:8"', "baseline": '"0.2 mm"'})
    ran = coach("family", family, "--shop", shop, "--write", tmp_path / "new" / "chest")
    assert ran.code == 0
    files = sorted((tmp_path / "new" / "chest").iterdir())
    loaded = load(files, shop, None)
    assert len(loaded.job.boards) == 10
    assert [layout.name for layout in loaded.job.layouts] == ["Chest, side 57 mm", "Chest, side 76 mm"]
    assert f"coach run {files[0]} {files[1]}" in ran.out


def test_drawers_may_have_labels_and_boards_of_their_own() -> None:
    tables = '[[drawers]]\nlabel = "deep"\nwidth = "76 mm"\n[[drawers]]\nlabel = "tray"\nwidth = "57 mm"\nboards = 6\n'
    found = proposed(family_text({"widths": None}, tables), scale("0.5 mm"))
    parts = [read_parts(tomllib.loads(text))[0] for text in found.texts]
    assert [(part.label, part.width_mm, part.boards) for part in parts] == [("deep", 76.0, 2), ("tray", 57.0, 6)]


def test_a_half_blind_family_has_tails_less_the_lap() -> None:
    changed: Keys = {"joint": '"half-blind"', "lap": '"4 mm"', "mates_with": '"16 mm"'}
    found = proposed(family_text(changed), scale("0.5 mm"))
    assert {joint.tail_length_mm for layout in found.layouts for joint in layout.parts[0].ends.values()} == {12.0}


def test_existing_files_are_never_overwritten_and_none_is_written_then(tmp_path: Path, shop: Path) -> None:
    folder = tmp_path / "chest"
    folder.mkdir()
    (folder / "drawer-2.toml").write_text("mine", encoding="utf-8")
    ran = coach("family", family_of(tmp_path), "--shop", shop, "--write", folder)
    assert ran.code == 1 and "drawer-2.toml: there is such a file already; nothing was written" in ran.err
    assert [file.name for file in folder.iterdir()] == ["drawer-2.toml"]


def test_a_file_where_the_folder_should_be_is_said(tmp_path: Path, shop: Path) -> None:
    ran = coach("family", family_of(tmp_path), "--shop", shop, "--write", shop)
    assert ran.code == 1 and "can't be made a folder" in ran.err


def test_a_search_that_ends_early_says_what_is_proven(tmp_path: Path, shop: Path) -> None:
    family = family_of(tmp_path, {"widths": f"[{HARD}]", "pin": '["3 mm", "8 mm"]', "ratio": "1.5"})
    ran = coach("family", family, "--shop", shop, "--seconds", "0.001")
    assert ran.code == 0
    assert "the best found before the search ended; proven is only that symmetrical layouts" in ran.out


def test_ctrl_c_ends_the_search_with_the_best_so_far(tmp_path: Path, shop: Path) -> None:
    family = family_of(tmp_path, {"widths": f"[{HARD}]", "pin": '["3 mm", "8 mm"]', "half_pin": '["4 mm", "9 mm"]'})
    words = ["family", family, "--shop", shop, "--write", tmp_path / "chest"]
    coach_command = [sys.executable, "-m", "coach", *map(str, words)]
    with subprocess.Popen(coach_command, stdout=PIPE, stderr=PIPE, text=True, encoding="utf-8") as running:
        assert running.stderr is not None
        for line in running.stderr:
            if line.startswith("enough: "):
                running.send_signal(signal.SIGINT)
                break
        out, _ = running.communicate(timeout=60)
    assert running.returncode == 0
    assert "before the search ended" in out
    assert len(list((tmp_path / "chest").iterdir())) == 14


def test_ctrl_c_between_two_questions_keeps_what_was_found() -> None:
    heard = []

    def pressed(line: str) -> None:
        heard.append(line)
        if line.startswith("enough: "):
            raise KeyboardInterrupt

    family = parse_family("chest.toml", family_text({"widths": SIX_WIDTHS}))
    found = propose(family, parse_shop("shop.toml", scale("0.5 mm")), mm, say=pressed).found
    assert not found.fewest and found.at_least == 10
    assert heard[-1].startswith("enough: ")


def test_the_solver_stops_at_ctrl_c() -> None:
    family = parse_family("chest.toml", family_text({"widths": f"[{HARD}]", "pin": '["3 mm", "8 mm"]'}))
    shop = parse_shop("shop.toml", scale("0.5 mm"))
    graduations = Graduations.of(shop)
    assert graduations is not None

    def pressed() -> None:
        raise KeyboardInterrupt

    answer = solve(bounds_of(family, graduations, shop, mm), 13, evenest=True, beat=pressed)
    assert answer.interrupted and not answer.settled


def test_without_the_solver_it_says_what_to_install(
    tmp_path: Path, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in [name for name in sys.modules if name.split(".")[0] == "ortools"]:
        monkeypatch.delitem(sys.modules, name)
    for name in ("coach.propose.family_search", "coach.propose.family_model"):
        monkeypatch.delitem(sys.modules, name, raising=False)
    monkeypatch.setitem(sys.modules, "ortools", None)
    ran = coach("family", family_of(tmp_path), "--shop", shop)
    assert ran.code == 1
    assert "-m pip install '.[family]'" in ran.err


IMPOSSIBLE: list[tuple[Keys, str, str]] = [
    (
        {"widths": '["85 mm"]', "tail": '["30 mm", "32 mm"]'},
        "0.5 mm",
        "chest.toml, line 3: widths[1]: no number of tails fills a board 85 mm wide: 2 tails of at most 32 mm, 1 pin "
        "of at most 6 mm and two half-pin sockets of at most 7 mm take at most 84 mm, and 3 tails of at least 30 mm, 2 "
        "pins of at least 3 mm and two half-pin sockets of at least 4 mm need 104 mm",
    ),
    (
        {"widths": '["20 mm"]'},
        "0.5 mm",
        "1 tail of at least 18 mm and two half-pin sockets of at least 4 mm need 26 mm",
    ),
    (
        {"pin": '["0.2 mm", "0.8 mm"]'},
        "0.5 mm",
        "pin: goes up to 0.8 mm, but the blade doesn't fit into a socket under",
    ),
    ({"tail": '["2 mm", "4 mm"]'}, "0.5 mm", "tail: goes up to 4 mm, but at the baseline a tail would be less than"),
    ({"half_pin": '["5 mm", "5.1 mm"]'}, "2 mm", "no graduation where the fence can stand makes a half-pin socket"),
    ({"pin": '["4 mm", "4.01 mm"]'}, "2 mm", "no marks on graduations keep a board 57 mm wide within the ranges"),
    ({"ratio": "1", "tail": '["15 mm", "17.2 mm"]', "widths": '["74 mm"]', "pin": '["4 mm", "5 mm"]'}, "2 mm", "74 mm"),
    ({"slope": '"1:6"'}, "0.5 mm", "slope: the family is drawn for 1:6 (9.5°), the jig has 1:8 (7.1°)"),
    ({"widths": '["400 mm"]'}, "0.5 mm", "passes the saw's column only with half-pin sockets of"),
]


@pytest.mark.parametrize(("changed", "step", "said"), IMPOSSIBLE)
def test_an_impossible_family_is_refused_with_what_binds(changed: Keys, step: str, said: str) -> None:
    with pytest.raises(CoachError) as refused:
        proposed(family_text(changed), scale(step))
    assert said in str(refused.value)


MISTAKES: list[tuple[Keys, str]] = [
    ({"format": "2"}, "format: found 2; expected 1"),
    ({"tails": "3"}, 'unknown key; did you mean "tail"?'),
    ({"tail": None}, '"tail" is missing'),
    ({"tail": '["32 mm", "18 mm"]'}, 'nothing lies in the range from "32 mm" to "18 mm"; expected the smaller first'),
    ({"pin": '["3 mm"]'}, "pin: found 1 lengths; expected two, from and to"),
    ({"pin": '"3 mm"'}, "expected a list of lengths"),
    ({"pin": '["0 mm", "0 mm"]'}, "found a range up to 0"),
    ({"half_pin": "5"}, 'half_pin: found 5: a length needs a unit, such as "5 mm"'),
    ({"ratio": "0.5"}, "ratio: found 0.5; expected a number from 1 to 100"),
    ({"ratio": "nan"}, "ratio: found nan; expected a number from 1 to 100"),
    ({"ratio": '"1.5"'}, 'ratio: found "1.5"; expected a number'),
    ({"widths": "[]"}, "widths: found none"),
    ({"widths": '["57 mm", "5.7 cm"]'}, '"5.7 cm" is there twice'),
    ({"widths": '["0 mm"]'}, "expected a width above zero"),
    ({"widths": '["57"]'}, "needs a unit"),
    ({"widths": None}, "widths or [[drawers]]: neither is there"),
    ({"boards": "20000"}, "boards: found 20000"),
    ({"boards": "6000"}, "12000 boards in all; expected at most 10000"),
    ({"lap": '"3 mm"'}, "a through joint has no lap"),
    ({"joint": '"half-blind"'}, '"lap" is missing'),
    ({"joint": '"half-blind"', "lap": '"12 mm"'}, "no tail is left once lap and baseline are taken off"),
    ({"name": '"a\\u202eb"'}, "unprintable character U+202E"),
]


@pytest.mark.parametrize(("changed", "said"), MISTAKES)
def test_a_mistake_in_the_file_is_said(changed: Keys, said: str) -> None:
    with pytest.raises(CoachError) as refused:
        parse_family("chest.toml", family_text(changed))
    assert said in str(refused.value)


def test_every_mistake_is_said_at_once() -> None:
    with pytest.raises(CoachError) as refused:
        parse_family("chest.toml", family_text({"ratio": "0", "pin": "[]", "tail": None}))
    assert len(refused.value.problems) == 3


def test_a_layout_is_no_family() -> None:
    with pytest.raises(CoachError, match="this is a layout; expected a family of drawers"):
        parse_family("chest.toml", 'format = 1\n[[parts]]\nlabel = "side"\n')


def test_drawers_of_one_label_are_refused() -> None:
    tables = '[[drawers]]\nlabel = "a"\nwidth = "76 mm"\n[[drawers]]\nlabel = "a"\nwidth = "57 mm"\n'
    with pytest.raises(CoachError, match="is the label of an earlier drawer"):
        parse_family("chest.toml", family_text({"widths": None}, tables))


@pytest.mark.parametrize("seconds", ["0", "-1", "soon", "nan"])
def test_the_seconds_of_a_search_are_above_zero(tmp_path: Path, seconds: str) -> None:
    assert coach("family", family_of(tmp_path), "--seconds", seconds).code == 2


def test_a_plain_family_is_one_that_works() -> None:
    assert proposed(family_text(), scale("0.5 mm")).found.fewest
    assert "ratio" not in FAMILY


def test_a_fence_that_ends_before_the_furthest_mark_of_a_family_is_what_is_named() -> None:
    # Boards of 300 mm with half-pin sockets to 10 and tails to 80 have a mark at 210 mm or beyond, for which the fence
    # would have to stand 80 + 210 · 8/√65 − 0.9 = 287.48 from the kerf: 37.48 beyond its 250.
    text = (
        'format = 1\nname = "Big"\nwidths = ["300 mm"]\nthickness = "12 mm"\nlength = "400 mm"\njoint = "through"\n'
        'mates_with = "12 mm"\nhalf_pin = ["7 mm", "10 mm"]\ntail = ["50 mm", "80 mm"]\npin = ["7 mm", "9 mm"]\n'
    )
    tools = small_shop(graduation_mm="1/2", fence_max_mm=250.0, throat_mm=900.0)
    with pytest.raises(CoachError, match=r"the fence is 37\.478 short of the furthest mark that a board 300 mm wide"):
        propose(parse_family("big.toml", text), tools, plain)


def test_ctrl_c_before_the_solver_has_begun_is_not_lost() -> None:
    pytest.importorskip("ortools")
    from coach.propose.family_model import _run

    class Late:
        """Hears only what is said once it has begun, as the solver does."""

        def __init__(self) -> None:
            self.begun, self.stopped = threading.Event(), threading.Event()

        def solve(self, model: object) -> str:
            del model
            assert self.begun.wait(20)
            assert self.stopped.wait(20), "nobody stopped it"
            return "stopped"

        def stop_search(self) -> None:
            if self.begun.is_set():
                self.stopped.set()
            self.begun.set()

    def pressed() -> None:
        raise KeyboardInterrupt

    assert _run(Late(), object(), pressed) == ("stopped", True)  # type: ignore[arg-type, comparison-overlap]
