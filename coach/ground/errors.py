"""What a person reads when something is wrong."""

from __future__ import annotations

from collections.abc import Iterable

from coach.ground.clean import clean_all

MOST_PROBLEMS = 50
"""How many are said one by one."""


def more_problems(count: int) -> str:
    """What stands for those that aren't said one by one."""
    return f"and {count:,} more"


class CoachError(Exception):
    """Something that a person can put right, said in words that help.

    Attributes:
        problems: one message each, whole sentences or `where: what`, never empty; as they may be printed
            (`coach.ground.clean`).
    """

    def __init__(self, *problems: str) -> None:
        if len(problems) > MOST_PROBLEMS + 1:  # the last of so many may say how many more there are
            problems = (*problems[:MOST_PROBLEMS], more_problems(len(problems) - MOST_PROBLEMS))
        problems = clean_all(problems)
        super().__init__("\n".join(problems))
        self.problems: tuple[str, ...] = problems

    @classmethod
    def of(cls, problems: Iterable[str]) -> CoachError:
        """An error that carries all of `problems` at once."""
        return cls(*problems)

    def at(self, where: str) -> CoachError:
        """The same error with `where` (a file, a key) said before each problem."""
        return CoachError(*(f"{where}: {problem}" for problem in self.problems))
