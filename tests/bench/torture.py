"""Walks through batches in a terminal with keys at random, kills at random moments, and looks at what is on disk.

Run it from the top of the checkout, on demand:  python tests/bench/torture.py ROUNDS [SEED]
It prints how many rounds there were, how many cuts the screen had acknowledged, and which of them were lost.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.torturing import Figures, Torture
from support.walking import Workshop


def main() -> int:
    """Runs the rounds; 1 if anything was lost."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1

    def told(figures: Figures) -> None:
        if figures.rounds % 25 == 0 or figures.losses:
            print(figures, flush=True)

    with tempfile.TemporaryDirectory() as folder:
        figures = Torture(Workshop.in_folder(Path(folder)), seed).run(rounds, told)
    print(f"seed {seed}\n{figures}")
    return 1 if figures.losses else 0


if __name__ == "__main__":
    sys.exit(main())
