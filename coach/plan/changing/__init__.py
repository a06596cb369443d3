"""Changes in the middle of a batch: boards, marks, the order, the shop."""
