"""Times the commands on files that are made to be slow, each up to the largest size that is read.

Run it from the top of the checkout, on demand:  python tests/bench/slow_files.py
Each should be answered within 2 s; what takes longer than half of that is printed, and the slowest of all.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.plain_files import layout_text
from support.slow_files import EXPORTS, TOML


def main() -> None:
    """Prints what is slow."""
    slowest = (0.0, "")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        file, good = folder / "f.toml", folder / "good.toml"
        good.write_text(layout_text(), encoding="utf-8")
        cases = [(what, text, command) for what, text in TOML.items() for command in ("check", "family", "--shop")]
        cases += [(what, text, "import") for what, text in EXPORTS.items()]
        for what, text, command in cases:
            file.write_text(text() if command == "import" else text()[:1_000_000], encoding="utf-8")
            words = ["check", str(good), "--shop", str(file)] if command == "--shop" else [command, str(file)]
            begun = time.perf_counter()
            done = subprocess.run([sys.executable, "-m", "coach", *words], capture_output=True, check=False)
            took = time.perf_counter() - begun
            slowest = max(slowest, (took, f"{command}, {what}"))
            if took > 1 or done.returncode != 1 or b"Traceback" in done.stderr:
                print(f"{took:5.2f} s  {command}, {what}: exit code {done.returncode}", flush=True)
    print(f"slowest of {len(cases)}: {slowest[0]:.2f} s, {slowest[1]}")


if __name__ == "__main__":
    main()
