"""How moments are said: by the clock of here, with the day where it isn't today's."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest

from coach.telling.times import time_words

HERE = timezone(timedelta(hours=-5))
NOW = datetime(2031, 3, 4, 9, 30, tzinfo=HERE)  # a Tuesday


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("2031-03-04T08:05:30.000-05:00", "08:05"),
        ("2031-03-04T00:00:00.000-05:00", "00:00"),
        ("2031-03-03T23:59:59.000-05:00", "yesterday 23:59"),
        ("2031-03-04T04:59:59.000+00:00", "yesterday 23:59"),  # the same moment, told elsewhere
        ("2031-03-02T16:05:00.000-05:00", "Sun 16:05"),
        ("2031-02-26T16:05:00.000-05:00", "Wed 16:05"),
        ("2031-02-25T16:05:00.000-05:00", "2031-02-25 16:05"),
        ("2031-03-05T16:05:00.000-05:00", "2031-03-05 16:05"),  # the clock was set back since
    ],
)
def test_a_moment_has_its_day_where_it_is_not_todays(at: str, said: str) -> None:
    assert time_words(at, NOW) == said


def test_seconds_and_the_word_for_today_are_said_where_asked_for() -> None:
    assert time_words("2031-03-04T08:05:30.000-05:00", NOW, seconds=True, today="today") == "today 08:05:30"
