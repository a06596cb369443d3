"""The words of the reminders and checklists, apart from the rules that choose among them.

A reminder says hazard, consequence and how to avoid it; a line of a checklist says the state that is wanted.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Signal(StrEnum):
    """How grave a hazard is, in the sense of ANSI Z535.4; the word is always shown, not its colour alone."""

    DANGER = "DANGER"
    """Will cause death or serious injury if not avoided."""
    WARNING = "WARNING"
    """Could cause death or serious injury."""
    CAUTION = "CAUTION"
    """Could cause minor or moderate injury."""
    NOTICE = "NOTICE"
    """Could spoil the work or the saw; nobody is hurt."""


@dataclass(frozen=True, slots=True)
class Reminder:
    """One reminder: hazard, consequence, avoidance, in at most 150 characters."""

    signal: Signal
    text: str


def _danger(hazard: str, avoidance: str) -> Reminder:
    return Reminder(Signal.DANGER, f"{hazard} {avoidance}")


def _warning(hazard: str, avoidance: str) -> Reminder:
    return Reminder(Signal.WARNING, f"{hazard} {avoidance}")


def _caution(hazard: str, avoidance: str) -> Reminder:
    return Reminder(Signal.CAUTION, f"{hazard} {avoidance}")


def _notice(hazard: str, avoidance: str) -> Reminder:
    return Reminder(Signal.NOTICE, f"{hazard} {avoidance}")


AGAIN = "again"
"""The topic of the checks when a batch is taken up again another time."""

TOPICS = ("saw", "blade", "guard", "boards", "yourself")
"""The topics of the `prepare` steps of a new batch, in order."""

MANUAL = "The saw's manual, your local codes and the practice you were trained in come before anything said here."

AT_THE_END = (
    "Saw off and the blade standing before anything is touched.",
    "Blade tension as the saw's manual says, usually let off after use.",
    "A note on the saw for its next user: tension off, guard and fence moved.",
    "Guard down to the table, jig off the table and hung up.",
    "Dust and offcuts out of the saw and off the floor, extraction off last.",
)
"""What to leave behind when the last board is cut; each line at most 72 characters."""

TITLES = {
    "saw": "The saw, its table and its fence",
    "blade": "The blade",
    "guard": "Guard and guides",
    "boards": "The boards",
    "yourself": "Yourself",
    AGAIN: "Coming back to the saw",
}

CHECKLISTS = {
    "saw": (
        "Manual: read for this saw, and at hand",
        "Table: square to the blade, or every tail leans",
        "Fence: along the blade's lead, so that a cut doesn't drift",
        "Insert: sound, and flush with the table",
        "Wheel covers: shut and latched",
    ),
    "blade": (
        "Teeth: sharp, none missing, set alike to both sides",
        "Body: no crack or kink, weld smooth",
        "Tension: what the manual gives for a blade of this width",
        "Tracking: turned by hand, unplugged, it stays put on both wheels",
    ),
    "guard": (
        "Guides: just clear of the blade, and behind the gullets",
        "Back bearing: turns only while the blade cuts",
        "Guard: just above the boards, no more blade bare than they need",
        "Jig: passes under guard and guides over its whole travel, saw off",
        "Post: locked, and still square after locking",
    ),
    "boards": (
        "Flat: none rocks on the table",
        "Edges: straight and parallel; ends: square to them",
        "Width: one for all boards of a part, spares too",
        "Baseline: scribed on both faces at each end that gets tails",
        "Ends A and B, top edge: labelled so that they read on both faces",
    ),
    "yourself": (
        "Eyes and ears: protection on",
        "Dust extraction: running, its hood at the blade",
        "Hands: bare, no gloves or rings",
        "Sleeves: short or buttoned close; long hair tied back",
        "Floor: clear and not slippery where you stand and feed",
    ),
    AGAIN: (
        "Blade: sharp, whole, tracking where it did",
        "Guides: just clear of the blade, behind the gullets",
        "Tension: back up to what the manual gives",
        "Guard: just above the boards, clear of the jig",
        "Reading: the fence at the reading shown, proved on scrap",
    ),
}

PREPARE = {
    "saw": (
        _warning(
            "A saw that starts while it is being set up can take fingers.",
            "Keep it unplugged or locked off until every setting stands.",
        ),
        _notice(
            "Boards are cut with either face up, so a table out of square shows twice over on every tail.",
            "Trust a square, not the scale.",
        ),
    ),
    "blade": (
        _warning(
            "A dull, badly set or slack blade wanders, and can break and whip out.",
            "Take it out of service at once, not after this batch.",
        ),
        _warning(
            "A click that keeps time is a crack passing by, and the blade may part.",
            "Stop the saw and touch nothing until all stands still.",
        ),
    ),
    "guard": (
        _warning(
            "Bare blade above the work lies open to a hand that slips, and cuts to the bone.",
            "Keep it covered but for the board's thickness.",
        ),
        _notice(
            "A jig that strikes the guard in mid-cut stops dead and spoils the tail.",
            "No jig thicker than the boards belongs on this table.",
        ),
    ),
    "boards": (
        _caution(
            "A cupped or twisted board rocks as it is cut, pinches the blade and jerks the hands.",
            "Leave it out of the batch.",
        ),
        _notice(
            "Half of the cuts are made with the other face up, where what is on one face is out of sight.",
            "Both faces carry every mark.",
        ),
    ),
    "yourself": (
        _warning(
            "A glove or loose sleeve that meets the teeth is drawn in, and the hand with it.",
            "Wear neither at the saw, however cold it is.",
        ),
        _warning(
            "Noise and fine dust do lasting harm that isn't felt at the time.",
            "Ears covered and extraction on, for short runs as well.",
        ),
    ),
    AGAIN: (
        _warning(
            "Others may have used the saw: a slack blade or a raised guard gives no sign until it hurts.",
            "Take nothing as you left it.",
        ),
        _notice(
            "A nudged fence or a new blade makes the old reading wrong, and every board after it.",
            "One cut on scrap tells.",
        ),
    ),
}

LONG_BOARDS = _caution(
    "A long board tips off the table at the end of a cut and drags the hands along.",
    "Have a stand of the table's height ready for it.",
)

BY_KIND = {
    "set-fence": (
        _warning(
            "A hand that moves the fence slides towards the teeth; a blade still running down cuts as deep.",
            "Saw off, and the blade standing.",
        ),
        _notice(
            "A fence that creeps as it is locked spoils every board of this setting.",
            "The reading counts only once it is locked.",
        ),
    ),
    "check": (
        _danger(
            "A short scrap brings the fingers to the teeth, and they will be cut.",
            "Scrap as long as the boards keeps them away.",
        ),
        _warning(
            "A rule or caliper near a moving blade is snatched, and the fingers with it.",
            "Measure away from the saw, or with the blade standing.",
        ),
    ),
    "clear": (
        _warning(
            "A chisel that slips goes deep into whatever is before its edge.",
            "Board clamped, both hands behind the edge, eyes covered.",
        ),
        _caution(
            "A coping saw forced round its turn snaps its blade and throws the hand onto sharp corners.",
            "Let it turn as it cuts.",
        ),
    ),
    "transfer": (
        _caution(
            "A marking knife can follow the grain and jump off into the hand that holds the boards.",
            "Let a clamp or vise hold them.",
        ),
        _notice(
            "A tail board that shifts while it is scribed round gives pins that fit nowhere.",
            "Light strokes first, and no second setting.",
        ),
    ),
    "saw-pin": (
        _warning(
            "On a tilted table or sled a pin board slides downhill and takes the hands to the blade.",
            "Clamped work and hands uphill stay clear.",
        ),
        _caution(
            "A hand saw can jump as it starts and tear the thumb that guides it.",
            "Low strokes and a thumb well above the teeth.",
        ),
    ),
    "fit": (
        _caution(
            "A mallet glances off a narrow edge onto the fingers that steady the joint.",
            "Boards in a vise, and a block under the blows.",
        ),
        _notice(
            "A joint driven home although it binds splits its board along the grain.",
            "Shiny spots show where a shaving must come off.",
        ),
    ),
}

HANDS = _danger(
    "A hand in the blade's line will be cut before it can draw back.",
    "Both hands stay beside the line, also when the board gives way.",
)

HANDS_LONG = _danger(
    "A hand in the blade's line will be cut; a long board that tips drags it there.",
    "Hands beside the line, and the far end on a stand.",
)

DRAWING_BACK = {
    "stopped": _warning(
        "Drawing back can pull a moving blade off its wheels, at you.",
        "Switch off, wait till it stands, draw straight back; key when hands are clear.",
    ),
    "as trained": _warning(
        "Drawing back askew can pull a moving blade off its wheels, at you.",
        "Back out only as trained, or switch off; key when hands are clear.",
    ),
}

WORK_OVER = _notice(
    "A saw left tensioned and without a word wears, and misleads its next user.",
    "Tension as the manual says, and a note left on it.",
)

DRAWING_BACK_HABITS = {
    "stopped": (
        "Switch off with board and jig held still, and wait until the blade stands.",
        "Draw board and jig straight back together, still tight to the fence.",
    ),
    "as trained": (
        "Back out as you were trained: straight, slow, the jig tight to the fence.",
        "If the blade comes forward or the kerf pinches: hold still and switch off.",
    ),
}
