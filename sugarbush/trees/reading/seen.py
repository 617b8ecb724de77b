"""A small memory of the tree numbers already met in one file."""

from array import array

_MASK = (1 << 63) - 1


class SeenNumbers:
    """Which row first had a number: 12 bytes a slot instead of some 100 for a dict of texts.

    Numbers are kept as 63-bit hashes in an open table. Two different numbers out of 700,000 share a hash
    with a chance of about 3 in 100 million; then one row would be listed as a duplicate.
    """

    def __init__(self) -> None:
        self._size = 1 << 12
        self._hashes = array("Q", bytes(8 * self._size))
        self._rows = array("I", bytes(4 * self._size))
        self._count = 0

    def first_row(self, number: str, row: int) -> int:
        """0 when the number is new (it is then remembered for `row`), else the row that had it first."""
        mark = (hash(number) & _MASK) or 1
        hashes = self._hashes
        wrap = self._size - 1
        slot = mark & wrap
        while held := hashes[slot]:
            if held == mark:
                return self._rows[slot]
            slot = (slot + 1) & wrap
        hashes[slot] = mark
        self._rows[slot] = row & 0xFFFFFFFF
        self._count += 1
        if self._count * 10 > self._size * 7:
            self._grow()
        return 0

    def _grow(self) -> None:
        old_hashes, old_rows = self._hashes, self._rows
        self._size *= 2
        wrap = self._size - 1
        hashes = array("Q", bytes(8 * self._size))
        rows = array("I", bytes(4 * self._size))
        for held, row in zip(old_hashes, old_rows, strict=True):
            if held:
                slot = held & wrap
                while hashes[slot]:
                    slot = (slot + 1) & wrap
                hashes[slot] = held
                rows[slot] = row
        self._hashes, self._rows = hashes, rows
