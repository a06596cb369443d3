"""Text in columns, for paper, pipes and terminals alike: as wide as what stands in it, and nothing at a line's end."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from rich.cells import cell_len


def columns(rows: Sequence[Sequence[str]], right: Collection[int] = ()) -> list[str]:
    """A line for each of `rows`, whose cells stand below one another; those of the columns `right` end flush."""
    widths = [max(map(cell_len, cells)) for cells in zip(*rows, strict=True)]
    lines = []
    for row in rows:
        cells = []
        for number, (cell, width) in enumerate(zip(row, widths, strict=True)):
            blanks = " " * (width - cell_len(cell))
            cells.append(blanks + cell if number in right else cell + blanks)
        lines.append("  ".join(cells).rstrip())
    return lines
