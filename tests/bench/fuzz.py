"""Reads layout and shop files that have gone wrong in many ways; only words for a person may come out.

Run it from the top of the checkout, on demand:  python tests/bench/fuzz.py [FILES] [SEED]
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.file_fuzz import Fuzz

AT_ONCE = 5000


def main() -> int:
    """Prints the figures; 1 if anything was wrong."""
    files = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    with tempfile.TemporaryDirectory() as folder:
        fuzz = Fuzz(Path(folder), seed)
        for done in range(0, files, AT_ONCE):
            fuzz.run(min(AT_ONCE, files - done))
            print(fuzz.figures, flush=True)
    return 1 if fuzz.figures.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
