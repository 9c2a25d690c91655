"""Paths through the Merkle tree over the history's hashes, after RFC 9162 section 2.1.

``verifier`` checks what is made here.
"""

from collections.abc import Sequence

from keyctl.audit.verifier import Tree


def root_of(leaves: Sequence[bytes]) -> bytes:
    tree = Tree()
    for leaf in leaves:
        tree.add(leaf)
    return tree.root()


def inclusion_path(index: int, leaves: Sequence[bytes]) -> list[bytes]:
    """Section 2.1.3.1: from the leaf up, what is on the other side."""
    if len(leaves) == 1:
        return []
    middle = _largest_full(len(leaves))
    if index < middle:
        return [*inclusion_path(index, leaves[:middle]), root_of(leaves[middle:])]
    return [*inclusion_path(index - middle, leaves[middle:]), root_of(leaves[:middle])]


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
