"""Spacings of tails: from a few widths to the marks along an end."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

Marks = tuple[tuple[float, ...], tuple[float, ...]]


def proportioned(width: Fraction, half_pin: Fraction, pin: Fraction, shares: Sequence[Fraction]) -> Marks:
    """Marks of tails whose widths at the end are as `shares`, from the top edge on; lengths in mm.

    The wood between the half-pin sockets, less the inner sockets, is shared out among the tails.

    Returns:
        the marks from the top edge and the marks from the bottom edge, each ascending. Where there is too little wood
        the marks cross; `coach.joint.limits` says so.
    """
    wood = width - 2 * half_pin - (len(shares) - 1) * pin
    whole = sum(shares)
    top: list[Fraction] = []
    bottom: list[Fraction] = []
    at = half_pin
    for share in shares:
        tail = wood * share / whole
        top.append(at)
        bottom.append(width - at - tail)
        at += tail + pin
    return tuple(map(float, top)), tuple(float(mark) for mark in reversed(bottom))
