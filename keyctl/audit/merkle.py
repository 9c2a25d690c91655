"""Paths through the Merkle tree over the history's hashes, after RFC 9162 section 2.1.

``verifier`` checks what is made here.
"""

from collections.abc import Sequence

from keyctl.audit.verifier import Tree, node_hash


def root_of(leaves: Sequence[bytes]) -> bytes:
    level = leaves
    while len(level) > 1:
        level = _parents(level)
    return level[0] if level else Tree().root()


def inclusion_path(index: int, leaves: Sequence[bytes]) -> list[bytes]:
    """Section 2.1.3.1: from the leaf up, what is on the other side."""
    path: list[bytes] = []
    level = leaves
    while len(level) > 1:
        path += level[index ^ 1 : (index ^ 1) + 1]
        index, level = index >> 1, _parents(level)
    return path


def _parents(level: Sequence[bytes]) -> Sequence[bytes]:
    """Two by two; a last one without another goes up as it is."""
    pairs = zip(level[::2], level[1::2], strict=False)
    return [*(node_hash(left, right) for left, right in pairs), *level[len(level) & ~1 :]]


def consistency_path(old_size: int, leaves: Sequence[bytes]) -> list[bytes]:
    """Section 2.1.4.1: what shows that the tree begins with its first ``old_size`` leaves."""
    return _consistency(old_size, leaves, is_whole=True) if 0 < old_size < len(leaves) else []


def _consistency(old_size: int, leaves: Sequence[bytes], *, is_whole: bool) -> list[bytes]:
    if old_size == len(leaves):
        return [] if is_whole else [root_of(leaves)]
    middle = _largest_full(len(leaves))
    if old_size <= middle:
        return [*_consistency(old_size, leaves[:middle], is_whole=is_whole), root_of(leaves[middle:])]
    return [*_consistency(old_size - middle, leaves[middle:], is_whole=False), root_of(leaves[:middle])]


def _largest_full(size: int) -> int:
    """The largest power of two below ``size``."""
    return int(1 << ((size - 1).bit_length() - 1))
