"""Damages a record's database, journal, shared memory and backups at random, and holds what is left against the truth.

Run it from the top of the checkout, on demand:  python tests/bench/damages.py [HOW MANY] [SEED]
It prints how many entries were kept, how many could be read in no copy, and every fault: an entry that was never
written, one that an untouched copy has and the new record hasn't, a traceback, a command that hangs.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.damages import Tried, try_one


def main() -> None:
    """Prints the counts."""
    many = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    tried, begun = Tried(), time.monotonic()
    for seed in range(first, first + many):
        try_one(seed, tried)
        for fault in tried.faults[-1:]:
            if fault.startswith(f"seed {seed},"):
                print(fault, flush=True)
    print(f"{tried.words()}; {time.monotonic() - begun:.0f} s")
    sys.exit(1 if tried.faults else 0)


if __name__ == "__main__":
    main()
