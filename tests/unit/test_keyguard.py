"""What a key press is taken for: a person's answer, a held key, or one that came too early."""

from __future__ import annotations

from collections.abc import Iterable

from support.app_screens import Seconds

from coach.talk.keyguard import KeyGuard, Verdict

WAIT_S = 0.5


def verdicts(pressed_at: Iterable[float], *, wait_s: float = WAIT_S) -> list[Verdict]:
    """What keys pressed so many seconds after the first step appeared are taken for; each step appears at once."""
    clock = Seconds(0.0)
    guard = KeyGuard(wait_s, clock)
    guard.shown()
    found = []
    for at in pressed_at:
        clock.passed = at
        found.append(guard.judge())
        if found[-1] is Verdict.MEANT:
            guard.hidden()
            guard.shown()
    return found


def test_a_key_before_anything_was_painted_is_early() -> None:
    assert KeyGuard(WAIT_S, Seconds()).judge() is Verdict.EARLY


def test_a_key_just_after_the_step_came_up_is_early() -> None:
    assert verdicts([0.49]) == [Verdict.EARLY]


def test_a_key_once_the_step_has_been_there_for_the_wait_is_meant() -> None:
    assert verdicts([0.5]) == [Verdict.MEANT]


def test_without_a_wait_a_key_counts_as_soon_as_the_step_is_painted() -> None:
    assert verdicts([0.0], wait_s=0.0) == [Verdict.MEANT]


def test_a_key_is_early_while_what_is_on_the_screen_is_out_of_date() -> None:
    clock = Seconds()
    guard = KeyGuard(WAIT_S, clock)
    guard.shown()
    guard.hidden()
    clock.passed += 10
    assert guard.judge() is Verdict.EARLY


def test_a_key_right_after_another_is_held_even_if_the_step_has_been_there_for_long() -> None:
    assert verdicts([1.0, 1.1], wait_s=0.0) == [Verdict.MEANT, Verdict.HELD]


def test_a_second_key_after_an_early_one_counts_if_it_comes_as_a_person_presses() -> None:
    assert verdicts([0.3, 0.8]) == [Verdict.EARLY, Verdict.MEANT]


def test_a_key_held_for_two_seconds_counts_at_most_twice() -> None:
    # Common practice, no source: terminals repeat a held key after about 0.4 s, then every 30 ms.
    repeats = [2.4 + 0.03 * number for number in range(54)]
    assert 1 <= verdicts([2.0, *repeats]).count(Verdict.MEANT) <= 2


def test_a_key_held_for_two_seconds_counts_at_most_twice_without_a_wait_too() -> None:
    repeats = [2.4 + 0.03 * number for number in range(54)]
    assert 1 <= verdicts([2.0, *repeats], wait_s=0.0).count(Verdict.MEANT) <= 2


def test_a_held_key_counts_again_only_after_it_was_let_go() -> None:
    repeats = [2.0 + 0.03 * number for number in range(100)]
    assert verdicts([*repeats, 6.0]) == [Verdict.MEANT, *[Verdict.HELD] * 99, Verdict.MEANT]


def test_fifty_keys_in_a_burst_count_once() -> None:
    # All of them came in 6 ms.
    burst = [3.0 + 0.006 / 50 * number for number in range(50)]
    assert verdicts(burst).count(Verdict.MEANT) == 1
