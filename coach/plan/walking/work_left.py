"""The cuts that are left in a batch, by fence setting and board."""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet

from coach.ground.terms import Edge, End, Lie, Side
from coach.plan.job import Job
from coach.plan.settings import Settings, lie_at


class WorkLeft:
    """What is left to cut, kept up to date cut by cut.

    Attributes:
        left: for each setting, for each board that has a cut left there, how it must lie for which side.
        count: for each setting, how many cuts are left.
        whole: for each setting, how many there are in all.
        travel: the settings that have cuts left, in the order in which the fence travels, rig by rig.
    """

    def __init__(
        self, job: Job, settings: Settings, done: AbstractSet[Side], out: AbstractSet[int], aside: AbstractSet[int]
    ) -> None:
        self._job = job
        self._settings = settings
        self._aside = aside
        number = len(settings.fence_mm)
        self._lies = [
            {(end, faces): lie_at(job, settings, setting, end, faces) for end in End for faces in Edge}
            for setting in range(number)
        ]
        way = 1 if settings.smallest_first else -1
        every = sorted(range(number), key=lambda index: (settings.rig(index), way * settings.fence_mm[index]))
        self._rank = {setting: place for place, setting in enumerate(every)}
        self._of_pattern = [self._in_order(serving.values()) for serving in settings.serves]
        self._of_board = {board: self._in_order(serving.values()) for board, serving in settings.own.items()}
        self.travel: list[int] = []
        self.left: list[dict[int, dict[Lie, Side]]] = [{} for _ in range(number)]
        self.count = [0] * number
        self.whole = [0] * number
        self._waiting = [0] * number  # of the counts, what is on boards put aside
        self._others = 0  # of the counts of all settings, what isn't
        for board in job.boards:
            if board.number in out:
                continue
            for key, setting in settings.serving(board).items():
                self.whole[setting] += 1
                side = Side(board.number, *key)
                if side not in done:
                    self.give_back(side)

    def lie_of(self, side: Side) -> Lie:
        """How the board must lie for a side to be cut, told as for the fence in use."""
        return self._lies[self._setting_of(side)][side.end, side.faces]

    def settings_of(self, board: int) -> Sequence[int]:
        """The settings at which a board is cut, whether or not it has been, in the order of travel."""
        return self._of_board.get(board) or self._of_pattern[self._job.board(board).pattern]

    def has(self, board: int) -> bool:
        """Whether a board has a cut left."""
        return any(board in self.left[setting] for setting in self.settings_of(board))

    def open(self, setting: int) -> int:
        """How many cuts can be made at a setting now: boards put aside wait until no other board has one."""
        return self.count[setting] - (self._waiting[setting] if self.others_left() else 0)

    def others_left(self) -> bool:
        """Whether a board that isn't put aside still has a cut."""
        return not self._aside or self._others > 0

    def take(self, side: Side) -> None:
        """A side is cut; nothing happens if it wasn't left."""
        setting = self._setting_of(side)
        boards = self.left[setting]
        if side.board not in boards or boards[side.board].pop(self.lie_of(side), None) is None:
            return
        self._change(setting, side.board, -1)
        if not boards[side.board]:
            del boards[side.board]

    def give_back(self, side: Side) -> None:
        """A side is left to cut."""
        setting = self._setting_of(side)
        self.left[setting].setdefault(side.board, {})[self.lie_of(side)] = side
        self._change(setting, side.board, 1)

    def _setting_of(self, side: Side) -> int:
        return self._settings.serving(self._job.board(side.board))[side.end, side.tail, side.faces]

    def _change(self, setting: int, board: int, by: int) -> None:
        if self.count[setting] == 0:
            insort(self.travel, setting, key=self._rank.__getitem__)
        self.count[setting] += by
        if self.count[setting] == 0:
            self.travel.remove(setting)
        if board in self._aside:
            self._waiting[setting] += by
        else:
            self._others += by

    def _in_order(self, settings: Iterable[int]) -> tuple[int, ...]:
        return tuple(sorted(set(settings), key=self._rank.__getitem__))
