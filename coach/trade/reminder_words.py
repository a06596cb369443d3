"""The words of the reminders, procedures and checklists, apart from the rules that choose among them.

A reminder says hazard, consequence and how to avoid it on one line of a narrow screen; a line of a procedure says how
a step is done; a line of a checklist says the state that is wanted.
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
    """Hazard, consequence, avoidance: with its signal word, as `SIGNAL: text`, at most 78 characters."""

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


ENDS = "ends"
"""The topic of boards whose ends are alike; a number follows it."""

AGAIN, OVER = "again", "over"
"""The topics of the checks when a batch is taken up again another time, and after its last cut."""

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
    ENDS: "Ends and baselines",
    "yourself": "Yourself",
    AGAIN: "Coming back to the saw",
    OVER: "The saw's work is over: switch off",
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
        "Stack: in the order in which they are to be cut, one way up",
    ),
    ENDS: ("Letters and lines: on both faces, the top edge labelled as well",),
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
        "Guard: just above the boards; eyes, ears and dust seen to",
        "Reading: the fence at the reading that comes next, proved on scrap",
    ),
    OVER: (
        "Blade: off, and standing",
        "Tension: as the manual says, let off",
        "Guard: down to the table; jig hung up",
        "Note left: tension off, fence moved",
        "Dust and offcuts: out; extraction off",
    ),
}

PREPARE = {
    "saw": (
        _warning("A saw that starts at set-up can take fingers.", "Unplug or lock it off."),
        _notice("A table out of square shows twice on each tail.", "Trust a square."),
    ),
    "blade": (
        _warning("A dull or badly set blade can break.", "Take it out of service at once."),
        _warning("A regular click is a crack.", "Stop the saw; touch nothing until still."),
    ),
    "guard": (
        _warning("A hand that slips onto bare blade is cut deep.", "Keep the guard low."),
        _notice("A jig thicker than the boards hits the guard.", "Use a thinner one."),
    ),
    "boards": (
        _caution("A cupped or twisted board binds and jerks the hands.", "Leave it out."),
        _notice("Half the cuts turn a face out of sight.", "Put every mark on both faces."),
    ),
    ENDS: (
        _notice("Measured along the slope a baseline is off.", "Go square."),
        _notice("An end with the wrong letter spoils its board.", "Look at one twice."),
    ),
    "yourself": (
        _warning("Gloves and loose sleeves can drag the hand in.", "Wear neither here."),
        _warning("Noise and fine dust do lasting harm.", "Ears covered, extraction on."),
    ),
    AGAIN: (
        _warning("A slack blade or raised guard can maim.", "Take nothing as you left it."),
        _notice("A nudged fence or new blade spoils boards.", "One cut on scrap tells."),
    ),
    OVER: (
        _warning("A blade that runs down cuts as deep as ever.", "Off, and wait until it stands."),
        _notice("A saw left tight wears.", "Tension as the manual says, and a note left."),
    ),
}

LONG_BOARDS = _caution("A long board tips and drags the hands along.", "Have a stand for it.")

BY_KIND = {
    "set-fence": (
        _warning("A hand at the fence can slip to the teeth.", "Saw off, blade standing."),
        _notice("A fence that creeps as it locks spoils boards.", "Read it once locked."),
    ),
    "check": (
        _danger("A short scrap takes fingers to the teeth.", "Use one as long as a board."),
        _warning("A moving blade snatches a rule, and fingers.", "Let it stand first."),
    ),
    "clear": (
        _warning("A chisel that slips cuts deep.", "Board clamped, hands behind the edge."),
        _caution("A forced coping saw snaps and cuts the hand.", "Turn it as it cuts."),
    ),
    "transfer": (
        _caution("A marking knife can jump into the holding hand.", "Use a clamp or vise."),
        _notice("A tail board that shifts spoils the pins.", "Make light strokes first."),
    ),
    "saw-pin": (
        _warning("On a tilted table or sled work can slide to the blade.", "Clamp it."),
        _caution("A hand saw can jump onto a thumb.", "Low strokes, thumb above the teeth."),
    ),
    "fit": (
        _caution("A mallet glances onto fingers.", "Boards in a vise, block under blows."),
        _notice("A joint forced home can split its board.", "Pare the spots that shine."),
    ),
}

HANDS = _danger("Hands in the blade's line will be cut.", "Keep out; key with hands clear.")

DRAWING_BACK = {
    "stopped": _warning("Drawing back pulls a moving blade off its wheels.", "Let it stand first."),
    "as trained": _warning("Drawing back can pull a moving blade off.", "Back out only as trained."),
}

WORK_OVER = _notice("A saw left tight wears.", "Tension as the manual says, and a note left.")

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

PROCEDURES = {
    "set-fence": (
        "Saw off, blade standing: set the fence to the reading, then lock it.",
        "Check the reading after locking, and set the fence anew if it has moved.",
    ),
    "check": (
        "Saw a scrap, as wide as you like, from one edge or both, just as a board.",
        "Blade standing, measure at the end, from the edge that lay at the jig.",
    ),
    "clear": (
        "Eyes covered, saw or chop out the waste, leaving a little at the baseline.",
        "Then pare out to the baseline from both faces, half-way from each.",
    ),
    "transfer": (
        "Letter both boards alike at this corner, so that it stays together.",
        "Mark the pins from this very end, the boards' edges flush, with a knife.",
    ),
    "saw-pin": (
        "Saw in the waste, close beside the line, down to the baseline and no more.",
        "By hand, or on a tilted sled: all of one slant first, then the other.",
    ),
    "fit": (
        "Pare to the line, never past it, and try the joint dry after each paring.",
        "Once it is home, see that the corner is square, before any glue is mixed.",
    ),
}
"""How each step but `prepare` and `cut` is done, in order; each line at most 76 characters."""

CUT_START = "Full speed first; jig tight to the fence; board home on the stop, no chips."

CUT_START_LONG = "Far end on a stand; full speed; jig tight to fence; home on stop, no chips."

CUT_END = {
    "stopped": "Kerf's first corner at the line: stop, switch off, wait, draw straight back.",
    "as trained": "Kerf's first corner at the line: stop, and back out straight, as trained.",
}
"""By the shop's way of drawing back."""
