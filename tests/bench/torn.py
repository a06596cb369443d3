"""Tears a record's write-ahead log at every length, flips its bytes, and fills the disk at many sizes.

Run it from the top of the checkout, on demand:  python tests/bench/torn.py [STRIDE]
With a stride only every so many bytes are tried. It prints the cases tried and the acknowledged events that were lost.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.full_disk import fill
from support.killed_record import Killed

FULL_DISK_SIZES = range(0, 250_000, 501)


def torn(folder: Path, killed: Killed, stride: int) -> tuple[int, int]:
    """Cases, and events lost, with the log torn at every `stride`-th length."""
    lost = cases = 0
    for length in range(0, len(killed.log) + 1, stride):
        found = killed.count(folder, killed.log[:length])
        cases += 1
        lost += killed.sound(length) - (found or 0)
        assert found is not None, f"torn at {length}: refused"
        assert found == killed.sound(length), f"torn at {length}: {found} events, expected {killed.sound(length)}"
    return cases, lost


def flipped(folder: Path, killed: Killed, stride: int) -> tuple[int, int]:
    """Cases, and events lost from before the flipped byte, with one byte of the log changed."""
    chance = random.Random(8)  # noqa: S311 - it has to be the same again
    lost = cases = 0
    for at in range(0, len(killed.log), stride):
        log = bytearray(killed.log)
        log[at] ^= chance.randrange(1, 256)
        before = max((frame for frame in killed.frames if frame <= at), default=0)
        found = killed.count(folder, bytes(log))
        cases += 1
        alone = before == killed.frames[-2] and at - before in range(16, 24)
        if before < killed.frames[-1] and not alone and at < killed.ends[-1]:
            assert found is None, f"flipped at {at}: opened, though entries follow"
            continue
        kept = killed.events if at >= killed.ends[-1] else killed.sound(before)  # what follows is left from before
        lost += kept - (found or 0)
        assert found == kept, f"flipped at {at}: {found} events, expected {kept}"
    return cases, lost


def main() -> None:
    """Prints the figures."""
    stride = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        kinds = {
            "four events in the base, three in the log": Killed.after(folder / "kept", kept=4, more=3),
            "five events in a new record": Killed.after(folder / "new", kept=0, more=5),
        }
        for what, killed in kinds.items():
            for how in (torn, flipped):
                begun = time.perf_counter()
                cases, lost = how(folder / "torn", killed, stride)
                print(
                    f"log {how.__name__}, {what}: {cases} cases of {len(killed.log)} bytes, events lost {lost} "
                    f"({time.perf_counter() - begun:.0f} s)",
                    flush=True,
                )
        found = fill(folder / "full", FULL_DISK_SIZES) + fill(folder / "large", FULL_DISK_SIZES, before=400)
        unsound = [filled for filled in found if not filled.sound]
        acknowledged = sum(filled.acknowledged for filled in found)
        print(
            f"disk full, {len(found)} cases: told {sum(bool(filled.said) for filled in found)} times, {acknowledged} "
            f"events acknowledged, lost {sum(filled.lost for filled in found)}, unsound {unsound or 'none'}"
        )


if __name__ == "__main__":
    main()
