"""The Merkle tree of RFC 9162: roots, a frontier that grows, and proofs.

Invariants:

- Bytes in, bytes out; nothing here knows of books or files.
- A leaf is hashed with 0x00 before it and a node with 0x01, so that neither passes for the other.
- A complete node (level, number) covers leaves number * 2^level up to (number + 1) * 2^level and
  never changes once those leaves are there.

Source: RFC 9162 section 2.1 (the same tree as RFC 6962 section 2.1).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence

from ledger.errors import ContractError

HASH_SIZE = 32
EMPTY_ROOT = hashlib.sha256(b"").digest()

ReadNode = Callable[[int, int], bytes]

Node = tuple[int, int, bytes]
"""A complete node: its level, 0 for a leaf; its position in the level, from 0; its hash, 32 bytes.

A plain tuple: two are made for every entry that is read, and a class would cost more than the hash.
"""

_LEAF, _INNER = b"\x00", b"\x01"
_sha256 = hashlib.sha256


def hash_leaf(content: bytes) -> bytes:
    """Return the hash of a leaf's content."""
    return _sha256(_LEAF + content).digest()


def hash_node(left: bytes, right: bytes) -> bytes:
    """Return the hash of the node above two others."""
    return _sha256(_INNER + left + right).digest()


class Frontier:
    """The right edge of a growing tree: enough to append and to know the root.

    It holds one hash for each set bit of the size, largest subtree first.
    """

    def __init__(self, size: int = 0, hashes: Iterable[bytes] = ()) -> None:
        """Take up a tree of `size` leaves.

        Args:
            size: number of leaves.
            hashes: one for each set bit of `size`, largest subtree first.

        Raises:
            ContractError: another number of hashes, or one that is not 32 bytes long.
        """
        self._size = size
        parts = list(hashes)
        # Each is the left half of a node to come, and is kept with the byte that stands before it.
        self._lefts = [_INNER + part for part in parts]
        right_count = size >= 0 and len(parts) == size.bit_count()
        if not right_count or any(len(part) != HASH_SIZE for part in parts):
            raise ContractError("a frontier does not fit its size", found=f"size {size}")

    @property
    def size(self) -> int:
        """Return the number of leaves."""
        return self._size

    def append(self, leaf_hash: bytes) -> tuple[Node, ...]:
        """Add a leaf; return the nodes that became complete, the leaf itself first."""
        level, number, joined = 0, self._size, leaf_hash
        completed = [(level, number, joined)]
        while number & 1:  # a right child: with its left sibling it fills the node above
            level, number = level + 1, number >> 1
            joined = _sha256(self._lefts.pop() + joined).digest()
            completed.append((level, number, joined))
        self._lefts.append(_INNER + joined)
        self._size += 1
        return tuple(completed)

    def root(self) -> bytes:
        """Return the root of the tree as it is now."""
        if not self._lefts:
            return EMPTY_ROOT
        root = self._lefts[-1][1:]
        for left in self._lefts[-2::-1]:
            root = _sha256(left + root).digest()
        return root

    def to_bytes(self) -> bytes:
        """Return the size, 8 bytes big-endian, followed by the hashes."""
        return self._size.to_bytes(8, "big") + b"".join(left[1:] for left in self._lefts)

    @classmethod
    def from_bytes(cls, stored: bytes) -> Frontier:
        """Read back what `to_bytes` returned.

        Raises:
            ContractError: the bytes are no frontier.
        """
        hashes = [stored[i : i + HASH_SIZE] for i in range(8, len(stored), HASH_SIZE)]
        return cls(int.from_bytes(stored[:8], "big"), hashes)

    @classmethod
    def from_nodes(cls, size: int, read_node: ReadNode) -> Frontier:
        """Make the frontier of the first `size` leaves from complete nodes."""
        return cls(size, [read_node(level, number) for level, number in _split(0, size)])


def compute_root(leaf_hashes: Iterable[bytes]) -> bytes:
    """Return the root over leaf hashes, 32 bytes."""
    frontier = Frontier()
    for leaf_hash in leaf_hashes:
        frontier.append(leaf_hash)
    return frontier.root()


def compute_inclusion_proof(index: int, size: int, read_node: ReadNode) -> tuple[bytes, ...]:
    """Return the audit path of leaf `index` in the tree of the first `size` leaves.

    Source: RFC 9162 section 2.1.3.1.

    Raises:
        ContractError: the tree has no such leaf.
    """
    if not 0 <= index < size:
        raise ContractError("no such leaf", found=str(index), expected=f"0 to {size - 1}")
    path = []
    start, end = 0, size
    while end - start > 1:
        middle = start + _compute_left_size(end - start)
        if index < middle:
            path.append(_compute_range(middle, end, read_node))
            end = middle
        else:
            path.append(_compute_range(start, middle, read_node))
            start = middle
    return tuple(reversed(path))


def compute_consistency_proof(size1: int, size2: int, read_node: ReadNode) -> tuple[bytes, ...]:
    """Return the proof that the tree of `size1` leaves is a beginning of that of `size2`.

    Source: RFC 9162 section 2.1.4.1.

    Raises:
        ContractError: not 0 < size1 <= size2.
    """
    if not 0 < size1 <= size2:
        raise ContractError("no such pair of trees", found=f"{size1} and {size2}")
    path = []
    start, end = 0, size2
    while size1 != end:
        middle = start + _compute_left_size(end - start)
        if size1 <= middle:
            path.append(_compute_range(middle, end, read_node))
            end = middle
        else:
            path.append(_compute_range(start, middle, read_node))
            start = middle
    if start > 0:  # the old tree ends inside: its last complete part is not known to the verifier
        path.append(_compute_range(start, end, read_node))
    return tuple(reversed(path))


def verify_inclusion(
    leaf_hash: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes
) -> bool:
    """Say whether `proof` shows the leaf at `index` in the tree of `size` leaves and this root.

    Source: RFC 9162 section 2.1.3.2.
    """
    if not 0 <= index < size or len(leaf_hash) != HASH_SIZE:
        return False
    position, last, computed = index, size - 1, leaf_hash
    for part in proof:
        if last == 0:
            return False
        if position & 1 or position == last:
            computed = hash_node(part, computed)
            while not position & 1 and position:
                position, last = position >> 1, last >> 1
        else:
            computed = hash_node(computed, part)
        position, last = position >> 1, last >> 1
    return last == 0 and computed == root


def verify_consistency(
    size1: int, root1: bytes, size2: int, root2: bytes, proof: Sequence[bytes]
) -> bool:
    """Say whether `proof` shows that the tree (size1, root1) is a beginning of (size2, root2).

    Nothing follows from an empty tree, so `size1` of 0 is never shown.

    Source: RFC 9162 section 2.1.4.2.
    """
    leaves = range(size1)
    return size1 > 0 and verify_subtree_consistency(leaves, root1, size2, root2, proof)


def verify_subtree_consistency(
    leaves: range, subtree_root: bytes, size: int, root: bytes, proof: Sequence[bytes]
) -> bool:
    """Say whether `proof` shows that some leaves of a tree have `subtree_root` by themselves.

    For leaves from 0 on this is the consistency of RFC 9162 section 2.1.4.2; the general form is
    that of the Internet-Draft on Merkle tree certificates (draft-ietf-plants-merkle-tree-certs).

    Args:
        leaves: the leaves, as `is_subtree` wants them.
        subtree_root: root over those leaves alone.
        size: leaves of the whole tree.
        root: root of the whole tree.
        proof: hashes, from the leaves upwards.
    """
    if not is_subtree(leaves) or leaves.stop > size:
        return False
    if not leaves:  # nothing is in every tree
        return subtree_root == EMPTY_ROOT and not proof
    first, last, tree_last = leaves.start, leaves.stop - 1, size - 1
    # Rise to where the subtree's last part is a single complete node; to the top of the subtree
    # where it ends together with the tree.
    while first != last and (last & 1 or last == tree_last):
        first, last, tree_last = first >> 1, last >> 1, tree_last >> 1
    rest = list(proof)
    if first == last:
        seed = subtree_root
    elif rest:
        seed = rest.pop(0)
    else:
        return False
    return _climb(first, last, tree_last, seed, rest) == (subtree_root, root)


def _climb(
    first: int, last: int, tree_last: int, seed: bytes, proof: Sequence[bytes]
) -> tuple[bytes, bytes] | None:
    """Return the roots of subtree and tree that a proof leads to; None when it does not fit."""
    subtree = tree = seed
    for part in proof:
        if tree_last == 0:
            return None
        if last & 1 or last == tree_last:
            if first < last:
                subtree = hash_node(part, subtree)
            tree = hash_node(part, tree)
            while not last & 1 and last:
                first, last, tree_last = first >> 1, last >> 1, tree_last >> 1
        else:
            tree = hash_node(tree, part)
        first, last, tree_last = first >> 1, last >> 1, tree_last >> 1
    return (subtree, tree) if tree_last == 0 else None


def is_subtree(leaves: range) -> bool:
    """Say whether consecutive leaves stand under one node of every larger tree.

    They start at a multiple of the power of two that is their number or the next above it.
    """
    size = leaves.stop - leaves.start  # len() ends at 2^63
    if leaves.start < 0 or size < 0 or leaves.step != 1:
        return False
    return size == 0 or leaves.start % (1 << (size - 1).bit_length()) == 0


def _compute_left_size(size: int) -> int:
    """Return the largest power of two smaller than `size`, which is at least 2."""
    return 1 << ((size - 1).bit_length() - 1)


def _split(start: int, end: int) -> list[tuple[int, int]]:
    """Return the complete nodes that cover a range which starts a subtree, largest first."""
    nodes = []
    while start < end:
        level = (end - start).bit_length() - 1
        nodes.append((level, start >> level))
        start += 1 << level
    return nodes


def _compute_range(start: int, end: int, read_node: ReadNode) -> bytes:
    """Return the root over a range that is a subtree, from its complete nodes."""
    return Frontier(
        end - start, [read_node(level, number) for level, number in _split(start, end)]
    ).root()
