"""What the trade and safety say at each step: grave things first, few words, nothing left out."""

from __future__ import annotations

import re
import subprocess
import sys
from itertools import product

import pytest

from coach.ground.errors import CoachError
from coach.trade.reminders import (
    AGAIN,
    AT_THE_END,
    MANUAL,
    TOPICS,
    Signal,
    checklist,
    cut_habits,
    procedure,
    reminders,
    topic_title,
)

KINDS = ("set-fence", "check", "cut", "clear", "transfer", "saw-pin", "fit")
EVERY_TOPIC = (*TOPICS, AGAIN)
STEPS = [("prepare", topic) for topic in EVERY_TOPIC] + [(kind, None) for kind in KINDS]
WAYS = ("stopped", "as trained")
VARIANTS = [
    (kind, topic, way, long_board, last)
    for (kind, topic), way, long_board, last in product(STEPS, WAYS, (False, True), (False, True))
]


def spoken(
    kind: str,
    topic: str | None = None,
    *,
    backing_out: str = "stopped",
    long_board: bool = False,
    last: bool = False,
) -> str:
    """All that is said at a step, in one lower-case string."""
    said = reminders(kind, topic=topic, backing_out=backing_out, long_board=long_board, last=last)
    return " ".join(reminder.text for reminder in said).lower()


def matters(kind: str, *, backing_out: str = "stopped", long_board: bool = False) -> str:
    """All that a person reads at a step after preparing: reminders, then procedure, in one lower-case string."""
    done = procedure(kind, backing_out=backing_out, long_board=long_board)
    return " ".join((spoken(kind, backing_out=backing_out, long_board=long_board), *done)).lower()


def holds_all(text: str, *patterns: str) -> bool:
    return all(re.search(pattern, text, re.IGNORECASE) for pattern in patterns)


def test_the_signal_words_run_from_the_gravest_to_the_mildest() -> None:
    # ANSI Z535.4-2007 §4.14: DANGER will, WARNING could cause death or serious injury, CAUTION minor or
    # moderate injury, NOTICE none.
    assert [str(signal) for signal in Signal] == ["DANGER", "WARNING", "CAUTION", "NOTICE"]


@pytest.mark.parametrize(("kind", "topic", "way", "long_board", "last"), VARIANTS)
def test_a_step_has_one_or_two_short_reminders_the_gravest_first(
    kind: str, topic: str | None, way: str, long_board: bool, last: bool
) -> None:
    said = reminders(kind, topic=topic, backing_out=way, long_board=long_board, last=last)
    gravity = [list(Signal).index(reminder.signal) for reminder in said]
    assert 1 <= len(said) <= 2
    assert gravity == sorted(gravity)
    # The walk's screen has two lines of 80 columns for them.
    assert all(reminder.text and len(f"{reminder.signal}: {reminder.text}") <= 78 for reminder in said)


@pytest.mark.parametrize(("kind", "topic", "way", "long_board", "last"), VARIANTS)
def test_a_reminder_is_plain_whole_sentences(
    kind: str, topic: str | None, way: str, long_board: bool, last: bool
) -> None:
    for reminder in reminders(kind, topic=topic, backing_out=way, long_board=long_board, last=last):
        assert reminder.text[0].isupper()
        assert reminder.text.endswith(".")
        assert reminder.text.isprintable()
        assert "  " not in reminder.text


@pytest.mark.parametrize(("kind", "topic", "way", "long_board", "last"), VARIANTS)
def test_a_reminder_says_a_hazard_and_then_how_to_avoid_it(
    kind: str, topic: str | None, way: str, long_board: bool, last: bool
) -> None:
    # DOE-STD-1029 §4 (from memory): a warning says what may happen and how not to be hurt.
    for reminder in reminders(kind, topic=topic, backing_out=way, long_board=long_board, last=last):
        assert reminder.text.count(". ") == 1


def test_no_two_steps_say_the_same() -> None:
    texts = [reminder.text for kind, topic in STEPS for reminder in reminders(kind, topic=topic)]
    assert len(set(texts)) == len(texts)


def test_a_notice_never_speaks_of_an_injury() -> None:
    # ANSI Z535.4-2007 §4.14: NOTICE is for what hurts nobody.
    notices = {
        reminder.text
        for kind, topic, way, long_board, last in VARIANTS
        for reminder in reminders(kind, topic=topic, backing_out=way, long_board=long_board, last=last)
        if reminder.signal is Signal.NOTICE
    }
    assert notices
    assert not [text for text in notices if re.search(r"finger|hand\b|hands|cut to|hurt|injur", text)]


@pytest.mark.parametrize(
    ("topic", "patterns"),
    [
        # The blade guarded but for its working part; wheels enclosed: 29 CFR 1910.213(i)(1) (from memory).
        (
            "saw",
            (
                r"manual",
                r"square to the blade",
                r"fence.*lead.*drift",
                r"insert.*sound",
                r"wheel covers.*shut",
            ),
        ),
        # Dull or badly set blades out of service at once: 29 CFR 1910.213(s)(1) (from memory); tension that
        # shows: (i)(2). A regular click is a cracked blade: NAVEDTRA 14043, Builder 3 & 2 Vol. 1.
        (
            "blade",
            (r"sharp", r"tension", r"tracking", r"dull.*at once", r"click.*stop the saw.*touch nothing"),
        ),
        # Guard set to the work's height: HSE WIS31; the guide just above the work: NAVEDTRA 14043.
        ("guard", (r"guides", r"guard: just above the boards", r"jig.*passes under.*guides")),
        # Which face is up changes from cut to cut, so both must be marked: common practice, no source.
        (
            "boards",
            (
                r"flat",
                r"parallel",
                r"ends: square",
                r"width: one",
            ),
        ),
        ("ends 1", (r"letters and lines: on both faces", r"labelled", r"square", r"wrong letter spoils")),
        # Eye protection 29 CFR 1910.133(a), hearing 1910.95(c), wood dust NIOSH REL.
        ("yourself", (r"eyes", r"ears", r"dust extraction", r"no gloves", r"sleeves", r"hair")),
        # Wanted states when a batch is taken up again: common practice, no source.
        (
            AGAIN,
            (
                r"blade: sharp",
                r"guides: just clear",
                r"tension: back up",
                r"guard: just above",
                r"reading:.*scrap",
            ),
        ),
    ],
)
def test_a_prepare_step_covers_its_matters(topic: str, patterns: tuple[str, ...]) -> None:
    assert holds_all(" ".join(checklist(topic)) + " " + spoken("prepare", topic), *patterns)


@pytest.mark.parametrize(
    ("kind", "patterns"),
    [
        # Most accidents come while presenting or removing work, or adjusting a moving blade: HSE WIS31.
        ("set-fence", (r"saw off", r"blade standing", r"read it once locked")),
        ("check", (r"short scrap.*teeth.*long as a board", r"moving blade.*let it stand")),
        # Never back the work off a moving blade: NAVEDTRA 14043, Builder 3 & 2 Vol. 1.
        ("cut", (r"hands in the blade's line", r"key with hands clear", r"drawing back.*moving blade.*let it stand")),
        # The rest is common practice, no source.
        ("clear", (r"chisel.*clamped.*behind the edge", r"coping saw")),
        ("transfer", (r"knife.*clamp or vise", r"tail board that shifts.*light strokes")),
        ("saw-pin", (r"tilted table or sled.*clamp", r"hand saw.*thumb above the teeth")),
        ("fit", (r"mallet.*vise.*block", r"forced.*split.*pare")),
    ],
)
def test_a_step_speaks_of_its_hazards(kind: str, patterns: tuple[str, ...]) -> None:
    assert holds_all(spoken(kind), *patterns)


@pytest.mark.parametrize(
    ("kind", "patterns"),
    [
        # Common practice, no source.
        ("set-fence", (r"saw off, blade standing", r"to the reading", r"lock it", r"check the reading after locking")),
        (
            "check",
            (
                r"saw a scrap, as wide as you like",
                r"from one edge or both",
                r"just as a board",
                r"blade standing",
                r"measure at the end, from the edge that lay at the jig",
            ),
        ),
        ("clear", (r"eyes covered", r"waste", r"out to the baseline from both faces")),
        ("transfer", (r"letter both boards alike.*stays together", r"mark the pins from this very end")),
        ("saw-pin", (r"in the waste", r"down to the baseline", r"by hand, or on a tilted sled")),
        ("fit", (r"pare to the line", r"dry", r"square")),
    ],
)
def test_a_procedure_says_in_order_how_a_step_is_done(kind: str, patterns: tuple[str, ...]) -> None:
    assert holds_all(" ".join(procedure(kind)), ".*".join(patterns))


@pytest.mark.parametrize(("start", "long_board"), [("", False), (r"far end on a stand.*", True)])
@pytest.mark.parametrize(
    ("way", "end"),
    [
        # Never back the work off a moving blade: NAVEDTRA 14043, Builder 3 & 2 Vol. 1; the rest common practice.
        ("stopped", r"switch off.*wait.*draw straight back"),
        ("as trained", r"back out straight, as trained"),
    ],
)
def test_a_cut_goes_from_full_speed_to_the_line_and_back_in_order(
    start: str, long_board: bool, way: str, end: str
) -> None:
    middle = r"full speed.*jig tight to (the )?fence.*home on (the )?stop, no chips.*first corner at the line: stop.*"
    assert holds_all(" ".join(procedure("cut", backing_out=way, long_board=long_board)), start + middle + end)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("long_board", [False, True])
def test_every_cut_keeps_hands_out_and_the_key_for_hands_that_are_clear(way: str, long_board: bool) -> None:
    assert holds_all(
        matters("cut", backing_out=way, long_board=long_board), r"hands in the blade's line", r"key with hands clear"
    )


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("long_board", [False, True])
def test_a_procedure_fits_two_lines_of_whole_sentences(kind: str, way: str, long_board: bool) -> None:
    lines = procedure(kind, backing_out=way, long_board=long_board)
    assert 1 <= len(lines) <= 2
    assert all(len(line) <= 76 and line.isprintable() and "  " not in line for line in lines)
    assert all(line[0].isupper() and line.endswith(".") for line in lines)


def test_a_prepare_step_has_a_checklist_instead_of_a_procedure() -> None:
    assert procedure("prepare") == ()


def test_only_a_long_board_is_put_on_a_stand_in_the_cut() -> None:
    assert "stand;" in matters("cut", long_board=True)
    assert "stand;" not in matters("cut")


def test_a_cut_names_the_hands_as_danger_and_then_drawing_back_as_warning() -> None:
    for way in WAYS:
        hands, drawing_back = reminders("cut", backing_out=way)
        assert hands.signal is Signal.DANGER
        assert hands.text.startswith("Hands in the blade's line")
        assert drawing_back.signal is Signal.WARNING
        assert drawing_back.text.startswith("Drawing back")


def test_backing_out_as_trained_is_left_to_training() -> None:
    said = matters("cut", backing_out="as trained")
    assert "back out only as trained" in said
    assert not re.search(r"let it stand|switch off|wait", said)


def test_a_long_board_gets_support_in_preparing() -> None:
    assert holds_all(spoken("prepare", "boards", long_board=True), r"long board", r"have a stand")


def test_the_last_step_gives_the_saw_to_its_next_user_where_only_a_notice_is_lost() -> None:
    assert holds_all(spoken("fit", last=True), r"tension as the manual says", r"note left")
    assert reminders("cut", last=True) == reminders("cut")


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("long_board", [False, True])
def test_the_habits_of_a_cut_hold_all_of_them_in_order(way: str, long_board: bool) -> None:
    # Never back off a moving blade, the click of a crack: NAVEDTRA 14043; the rest common practice.
    patterns = ["full speed", "jig tight to the fence", "home on the stop.*no chips"]
    patterns += ["long board"] if long_board else []
    patterns += ["hands out of the blade's line", "click", "first corner of the kerf touches the line"]
    patterns += ["switch off.*stands", "straight back"] if way == "stopped" else ["back out as you were trained"]
    patterns += ["key only with the hands clear"]
    habits = cut_habits(way, long_board)
    found = [next(i for i, habit in enumerate(habits) if holds_all(habit, p)) for p in patterns]
    assert found == sorted(found)


def test_a_board_that_is_not_long_needs_no_stand() -> None:
    assert not [habit for habit in cut_habits("stopped", long_board=False) if "long board" in habit]


@pytest.mark.parametrize("topic", EVERY_TOPIC)
def test_a_checklist_is_short(topic: str) -> None:
    lines = checklist(topic)
    assert 1 <= len(lines) <= 5
    assert all(0 < len(line) <= 72 for line in lines)


@pytest.mark.parametrize("topic", EVERY_TOPIC)
def test_a_checklist_says_the_wanted_state(topic: str) -> None:
    # Degani & Wiener 1993, Human Factors 35(2), guideline 1: say the wanted value, not just "checked".
    for line in checklist(topic):
        assert ": " in line
        assert not re.search(r"\b(checked|check|ok|okay|set|done|fine)$", line, re.IGNORECASE)


def test_topics_are_in_order_and_coming_back_is_apart() -> None:
    assert TOPICS == ("saw", "blade", "guard", "boards", "yourself")
    assert AGAIN == "again"


def test_every_topic_has_a_heading_of_its_own() -> None:
    titles = [topic_title(topic) for topic in EVERY_TOPIC]
    assert len(set(titles)) == len(EVERY_TOPIC)
    assert all(0 < len(title) <= 40 for title in titles)


def test_the_end_of_work_leaves_tension_a_note_and_no_dust() -> None:
    # Tension relaxed after use and a note left: HSE WIS31; by the saw's manual, since saws differ.
    assert holds_all(" ".join(AT_THE_END), r"tension as the saw's manual says", r"note.*next user", r"dust")
    assert all(len(line) <= 72 for line in AT_THE_END)


def test_the_manual_local_codes_and_training_come_first() -> None:
    assert holds_all(MANUAL, r"saw's manual", r"local codes", r"trained")
    assert MANUAL.count(".") == 1


def test_an_unknown_topic_is_refused_with_the_known_ones() -> None:
    with pytest.raises(CoachError, match=r'topic: found "jig", expected one of saw, blade'):
        checklist("jig")


def test_a_prepare_step_without_a_topic_is_refused() -> None:
    with pytest.raises(CoachError, match="topic: found nothing"):
        reminders("prepare")


def test_an_unknown_kind_of_step_is_refused() -> None:
    with pytest.raises(CoachError, match=r'kind of step: found "glue", expected one of prepare, cut'):
        reminders("glue")
    with pytest.raises(CoachError, match=r'kind of step: found "glue", expected one of prepare, cut'):
        procedure("glue")


def test_an_unknown_way_of_drawing_back_is_refused() -> None:
    with pytest.raises(CoachError, match="expected one of stopped, as trained"):
        cut_habits("quickly", long_board=False)
    with pytest.raises(CoachError, match="expected one of stopped, as trained"):
        procedure("cut", backing_out="quickly")


def test_loading_the_words_loads_no_screen_and_no_units() -> None:
    heavy = "print([m for m in ('textual', 'rich', 'pint') if m in sys.modules])"
    run = subprocess.run(
        [sys.executable, "-c", f"import sys, coach.trade.reminders; {heavy}"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout.strip() == "[]"
