"""What a shop file may say besides the tools themselves: what handling costs, and the spacer blocks there are."""

from __future__ import annotations

from fractions import Fraction

from coach.shop.tools import MOST_BLOCKS, Block, Handling
from coach.toml.tables import Table, shown

HANDLING_KEYS = (
    "fence_move",
    "pick_up",
    "edge_for_edge",
    "end_for_end",
    "end_over_end",
    "swing_per_metre",
    "switch_off",
)
BLOCK_KEYS = ("length", "count")
MOST_SECONDS = 1000
SHORTEST_BLOCK_MM = Fraction("0.01")


def read_handling(table: Table | None) -> Handling:
    """The costs in a [handling] table; what it doesn't say is as usual."""
    usual = Handling()
    if table is None:
        return usual
    table.known(HANDLING_KEYS)
    return Handling(
        fence_move_ms=_milliseconds(table, "fence_move", usual.fence_move_ms),
        pick_up_ms=_milliseconds(table, "pick_up", usual.pick_up_ms),
        edge_for_edge_ms=_milliseconds(table, "edge_for_edge", usual.edge_for_edge_ms),
        end_for_end_ms=_milliseconds(table, "end_for_end", usual.end_for_end_ms),
        end_over_end_ms=_milliseconds(table, "end_over_end", usual.end_over_end_ms),
        swing_ms_per_m=_milliseconds(table, "swing_per_metre", usual.swing_ms_per_m),
        switch_off_ms=_milliseconds(table, "switch_off", usual.switch_off_ms),
    )


def _milliseconds(table: Table, key: str, usual: int) -> int:
    if not table.has(key):
        return usual
    value = table.data[key]
    plain = isinstance(value, (int, float)) and not isinstance(value, bool)
    exact = Fraction(repr(value)) * 1000 if plain and 0 <= value <= MOST_SECONDS else None
    if exact is None or exact.denominator != 1:
        expected = f"seconds as a plain number from 0 to {MOST_SECONDS}, such as 2 or 2.5"
        decimals = "" if exact is None else ", with at most three decimals"
        table.wrong(key, f"found {shown(value)}; expected {expected}{decimals}")
        return usual
    return int(exact)


def read_blocks(root: Table) -> tuple[Block, ...]:
    """The blocks in the [[blocks]] tables, if there are any."""
    if not root.has("blocks"):
        return ()
    found = [_block(table) for table in root.tables("blocks")]
    blocks = tuple(block for block in found if block is not None)
    if sum(block.count for block in blocks) > MOST_BLOCKS:
        root.wrong("blocks", f"more than {MOST_BLOCKS} blocks in all; expected those that are used at the fence")
    return blocks


def _block(table: Table) -> Block | None:
    table.known(BLOCK_KEYS)
    length = table.length("length", positive=True)
    count = table.count("count", 1, MOST_BLOCKS, default=1)
    if length is not None and 0 < length < SHORTEST_BLOCK_MM:
        table.wrong("length", f"found {shown(table.data['length'])}; expected at least {float(SHORTEST_BLOCK_MM)} mm")
        return None
    return None if length is None or count is None else Block(float(length), count)
