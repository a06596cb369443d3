"""Mistakes at random, on demand, against the wood that is left: python tests/bench/mistakes.py [COUNT] [SEED]."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.mistakes import cases, contradicted, counted


def main() -> int:
    """Prints how many of each verdict there were, and every one that the wood contradicts."""
    count, seed = (int(word) for word in (*sys.argv[1:3], *("1000", "1")[len(sys.argv) - 1 :]))
    found = [contradicted(case) for case in cases(seed, count)]
    for verdict, why in found:
        if why:
            print(f"{verdict}: {why}")
    print(f"{count} mistakes: {counted(found)}; contradicted: {sum(why is not None for _, why in found)}")
    return int(any(why for _, why in found))


if __name__ == "__main__":
    sys.exit(main())
