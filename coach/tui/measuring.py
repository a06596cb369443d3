"""Asks for what was measured on the scrap, from one edge or from both."""

from __future__ import annotations

import math

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Footer, Input, Static

from coach.errors import CoachError
from coach.lengths import parse_length
from coach.plan.steps import Step
from coach.record.session import Session
from coach.sheets.saying import Saying
from coach.shop.tools import Jig
from coach.tui.dialogs import Field

TOO_FAR_MM = 10.0
"""A scrap cut further off than this is a fence set wrong, or a slip of the pen; an offset wouldn't cure it."""


def mark_from_both(jig: Jig, kerf_mm: float, width_mm: float, left_mm: float, expected_mm: float) -> float:
    """The mark in mm, from a scrap cut from both edges and the wood left between its two kerfs.

    The mark is the kerf's side that faces the tail: its far side on a jig whose wide end leads, else its near one. On a
    scrap of over twice the mark the kerfs stand apart by what the two marks leave, on a narrower one they have crossed
    over. Of the two marks that leave so much wood, it is the one nearest to what is expected.
    """
    kerf = kerf_mm / math.cos(jig.slope)
    apart, crossed = (0.0, kerf) if jig.wide_leads else (-kerf, 0.0)
    marks = ((width_mm - left_mm) / 2 + apart, (width_mm + left_mm) / 2 + crossed)
    return min(marks, key=lambda mark: abs(mark - expected_mm))


class MeasureScreen(ModalScreen[float | None]):
    """Closes with the mark as measured, in mm, or None."""

    CSS_PATH = "screens.tcss"
    BINDINGS = [
        Binding("tab", "app.focus_next", "next field", key_display="tab"),
        Binding("escape", "close", "back to the scrap cut"),
    ]

    def __init__(self, session: Session, step: Step, saying: Saying) -> None:
        super().__init__()
        assert step.mark_mm is not None
        self.expected_mm = step.mark_mm
        self.saying = saying
        self.unit = session.unit
        self.jig = session.job.shop.jig
        self.kerf_mm = session.job.shop.saw.kerf_mm
        self.side = "far" if self.jig.wide_leads else "near"

    def compose(self) -> ComposeResult:
        """One field for the mark, or two for a scrap cut from both edges."""
        with VerticalScroll(id="dialog"):
            yield Static(f"The scrap cut should stand at {self.saying.length(self.expected_mm)}.", markup=False)
            yield Static(f"Measured from the edge to the {self.side} side of the kerf, at the end:")
            yield Field(id="mark", placeholder=f"such as {self.saying.length(self.expected_mm)}", compact=True)
            yield Static("Or cut from both edges (the error shows twice as large). The scrap's width:")
            yield Field(id="width", placeholder=f"such as {self.saying.length(100.0)}", compact=True)
            yield Static("and the wood left between the two kerfs, at the end:")
            yield Field(id="left", placeholder="such as what is left of it", compact=True)
            yield Static(id="wrong", markup=False)
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        """The first field is the one most people need."""
        self.query_one("#mark", Input).focus()

    def action_close(self) -> None:
        """Nothing was measured."""
        self.dismiss(None)

    @on(Input.Submitted)
    def action_take(self) -> None:
        """Takes what was typed, if it makes sense."""
        try:
            mark = self._mark_mm()
        except CoachError as error:
            self._refuse(str(error))
            return
        if mark is None:
            self._refuse("Type what was measured, or press escape if the cut is right.")
            return
        self.dismiss(mark)

    def _refuse(self, why: str) -> None:
        """Says why, right below the field that is typed in, where a small window shows it too."""
        wrong = self.query_one("#wrong", Static)
        wrong.update(why)
        if isinstance(self.focused, Input):
            self.query_one("#dialog").move_child(wrong, after=self.focused)
        wrong.call_after_refresh(wrong.scroll_visible, animate=False)

    def _mark_mm(self) -> float | None:
        typed = {name: self.query_one(f"#{name}", Input).value.strip() for name in ("mark", "width", "left")}
        if typed["mark"] and (typed["width"] or typed["left"]):
            raise CoachError("Both ways are filled in; expected the first field alone, or the other two.")
        if typed["mark"]:
            mark = _length(typed["mark"])
        elif typed["width"] and typed["left"]:
            width, left = _length(typed["width"]), _length(typed["left"])
            if left >= width:
                raise CoachError("The wood left is no less than the scrap's width; expected less.")
            mark = mark_from_both(self.jig, self.kerf_mm, width, left, self.expected_mm)
        elif typed["width"] or typed["left"]:
            raise CoachError("A cut from both edges needs the scrap's width and the wood left.")
        else:
            return None
        off = abs(mark - self.expected_mm)
        if off > TOO_FAR_MM:
            raise CoachError(
                f"That is {self.saying.length(off)} off. Look at the scale and measure again; if it is so, set the "
                "fence anew (escape, then u) before you correct the rest."
            )
        return mark


def _length(text: str) -> float:
    return float(parse_length(text))
