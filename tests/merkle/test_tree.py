"""The tree against the recursive definitions of RFC 9162 section 2.1, written out plainly."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_tree import build_nodes

from ledger import merkle
from ledger.errors import ContractError

LEAVES = [number.to_bytes(2, "big") for number in range(70)]
SIZES = st.integers(min_value=1, max_value=len(LEAVES))


def compute_plainly(leaves: list[bytes]) -> bytes:
    """Return the root by the definition of RFC 9162 section 2.1.1."""
    if not leaves:
        return hashlib.sha256().digest()
    if len(leaves) == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    split = 1
    while split * 2 < len(leaves):
        split *= 2
    left, right = compute_plainly(leaves[:split]), compute_plainly(leaves[split:])
    return hashlib.sha256(b"\x01" + left + right).digest()


def prove_inclusion_plainly(index: int, leaves: list[bytes]) -> list[bytes]:
    """Return PATH(index, leaves) of RFC 9162 section 2.1.3.1."""
    if len(leaves) == 1:
        return []
    split = 1
    while split * 2 < len(leaves):
        split *= 2
    left, right = leaves[:split], leaves[split:]
    if index < split:
        return [*prove_inclusion_plainly(index, left), compute_plainly(right)]
    return [*prove_inclusion_plainly(index - split, right), compute_plainly(left)]


def prove_consistency_plainly(size: int, leaves: list[bytes], *, known: bool = True) -> list[bytes]:
    """Return SUBPROOF(size, leaves, known) of RFC 9162 section 2.1.4.1."""
    if size == len(leaves):
        return [] if known else [compute_plainly(leaves)]
    split = 1
    while split * 2 < len(leaves):
        split *= 2
    left, right = leaves[:split], leaves[split:]
    if size <= split:
        return [*prove_consistency_plainly(size, left, known=known), compute_plainly(right)]
    proof = prove_consistency_plainly(size - split, right, known=False)
    return [*proof, compute_plainly(left)]


def prove_subtree_plainly(part: range, leaves: list[bytes], *, known: bool = True) -> list[bytes]:
    """Return SUBTREE_SUBPROOF(start, end, leaves, known) of draft-ietf-plants-merkle-tree-certs."""
    if part == range(len(leaves)):
        return [] if known else [compute_plainly(leaves)]
    split = 1
    while split * 2 < len(leaves):
        split *= 2
    left, right = leaves[:split], leaves[split:]
    if part.stop <= split:
        return [*prove_subtree_plainly(part, left, known=known), compute_plainly(right)]
    inner = range(max(part.start - split, 0), part.stop - split)
    known = known and part.start >= split
    return [*prove_subtree_plainly(inner, right, known=known), compute_plainly(left)]


NODES = build_nodes(LEAVES)


def read_node(level: int, number: int) -> bytes:
    """Return one complete node of the tree of all leaves."""
    return NODES[level, number]


@pytest.mark.parametrize("size", range(len(LEAVES) + 1))
def test_frontier_has_the_defined_root(size):
    """A frontier, grown or made from stored nodes, has the root of the definition."""
    expected = compute_plainly(LEAVES[:size])
    assert merkle.compute_root(merkle.hash_leaf(leaf) for leaf in LEAVES[:size]) == expected
    frontier = merkle.Frontier.from_nodes(size, read_node)
    assert (frontier.size, frontier.root()) == (size, expected)
    assert merkle.Frontier.from_bytes(frontier.to_bytes()).root() == expected


def test_complete_nodes_are_those_of_the_definition():
    """Every stored node is the root over the leaves that it covers, and none is missing."""
    for (level, number), node_hash in NODES.items():
        covered = LEAVES[number << level : (number + 1) << level]
        assert len(covered) == 1 << level
        assert node_hash == compute_plainly(covered)
    assert len(NODES) == sum(len(LEAVES) >> level for level in range(7))


@given(st.data())
def test_inclusion_proofs_are_those_of_the_definition(data):
    """A proof is the path of the definition and shows its own leaf, place and size alone."""
    size = data.draw(SIZES)
    index = data.draw(st.integers(0, size - 1))
    proof = merkle.compute_inclusion_proof(index, size, read_node)
    assert list(proof) == prove_inclusion_plainly(index, LEAVES[:size])
    leaf_hash, root = merkle.hash_leaf(LEAVES[index]), compute_plainly(LEAVES[:size])
    assert merkle.verify_inclusion(leaf_hash, index, size, proof, root)
    other = data.draw(st.integers(0, size - 1).filter(lambda place: place != index or size == 1))
    if other != index:
        assert not merkle.verify_inclusion(leaf_hash, other, size, proof, root)
        assert not merkle.verify_inclusion(read_node(0, other), index, size, proof, root)
    assert not merkle.verify_inclusion(leaf_hash, index, size, (*proof, root), root)


@given(st.data())
def test_consistency_proofs_are_those_of_the_definition(data):
    """A proof is that of the definition and shows the two trees it was made for."""
    size2 = data.draw(SIZES)
    size1 = data.draw(st.integers(1, size2))
    proof = merkle.compute_consistency_proof(size1, size2, read_node)
    assert list(proof) == prove_consistency_plainly(size1, LEAVES[:size2])
    root1, root2 = compute_plainly(LEAVES[:size1]), compute_plainly(LEAVES[:size2])
    assert merkle.verify_consistency(size1, root1, size2, root2, proof)
    if size1 != size2:
        assert not merkle.verify_consistency(size1, root2, size2, root2, proof)
        assert not merkle.verify_consistency(size1, root1, size2, root1, proof)


@given(st.data())
@settings(max_examples=300)
def test_a_changed_proof_shows_nothing(data):
    """Any flipped bit in a proof makes it worthless."""
    size2 = data.draw(st.integers(2, len(LEAVES)))
    size1 = data.draw(st.integers(1, size2 - 1))
    proof = list(merkle.compute_consistency_proof(size1, size2, read_node))
    place = data.draw(st.integers(0, len(proof) - 1))
    byte = data.draw(st.integers(0, merkle.HASH_SIZE - 1))
    changed = bytearray(proof[place])
    changed[byte] ^= 1 << data.draw(st.integers(0, 7))
    proof[place] = bytes(changed)
    root1, root2 = compute_plainly(LEAVES[:size1]), compute_plainly(LEAVES[:size2])
    assert not merkle.verify_consistency(size1, root1, size2, root2, proof)


def test_a_leaf_outside_of_a_tree_is_never_shown():
    """Neither below the first nor behind the last, nor with a hash of another length."""
    size, root = 5, compute_plainly(LEAVES[:5])
    proof = merkle.compute_inclusion_proof(4, size, read_node)
    leaf_hash = merkle.hash_leaf(LEAVES[4])
    assert merkle.verify_inclusion(leaf_hash, 4, size, proof, root)
    for index, leaves in ((-1, size), (5, size), (6, size), (4, 4), (0, 0), (4, -5)):
        assert not merkle.verify_inclusion(leaf_hash, index, leaves, proof, root)
    assert not merkle.verify_inclusion(root[:31], 0, 1, (), root[:31])
    assert not merkle.verify_inclusion(leaf_hash, 4, size, proof[:-1], root)


ALL_PARTS = [
    (range(start, end), size)
    for size in range(1, 20)
    for start in range(size)
    for end in range(start + 1, size + 1)
]


def test_the_parts_of_trees_are_those_of_the_definition():
    """A part starts at a multiple of the power of two that is its number of leaves or above it."""
    for part, _ in ALL_PARTS:
        power = next(2**level for level in range(6) if 2**level >= len(part))
        assert merkle.is_subtree(part) == (part.start % power == 0), part
    for never in (range(-1, 1), range(3, 2), range(0, 4, 2), range(-4, 0)):
        assert not merkle.is_subtree(never)
    assert merkle.is_subtree(range(3, 3))


def test_proofs_of_parts_are_those_of_the_definition():
    """Each part of each tree is shown by its proof, and by no other, nor anything else by it."""
    for part, size in ALL_PARTS:
        inner, root = (
            compute_plainly(LEAVES[part.start : part.stop]),
            compute_plainly(LEAVES[:size]),
        )
        if not merkle.is_subtree(part):
            assert not merkle.verify_subtree_consistency(part, inner, size, root, [])
            continue
        proof = prove_subtree_plainly(part, LEAVES[:size])

        def shows(inner: bytes, root: bytes, proof: list[bytes], part=part, size=size) -> bool:
            return merkle.verify_subtree_consistency(part, inner, size, root, proof)

        assert shows(inner, root, proof), (part, size)
        other = merkle.hash_leaf(b"other")
        assert not shows(other, root, proof), (part, size)
        assert not shows(inner, other, proof), (part, size)
        assert not shows(inner, root, [*proof, other]), (part, size)
        assert not any(
            shows(inner, root, [*proof[:place], other, *proof[place + 1 :]])
            or shows(inner, root, [*proof[:place], *proof[place + 1 :]])
            for place in range(len(proof))
        ), (part, size)
        assert not merkle.verify_subtree_consistency(part, inner, part.stop - 1, root, proof)


def test_what_no_tree_has_is_refused():
    """Leaves, sizes and frontiers that cannot be are contract errors, never an answer."""
    with pytest.raises(ContractError, match="no such leaf: found 3, expected 0 to 2"):
        merkle.compute_inclusion_proof(3, 3, read_node)
    with pytest.raises(ContractError, match="no such pair"):
        merkle.compute_consistency_proof(0, 3, read_node)
    with pytest.raises(ContractError, match="does not fit"):
        merkle.Frontier(2, [b"\x00" * 31])
    with pytest.raises(ContractError, match="does not fit"):
        merkle.Frontier.from_bytes(b"\x00" * 7 + b"\x03" + b"\x00" * 32)


def test_a_proof_with_a_part_too_many_shows_nothing():
    """A verifier that has come to the top fails (RFC 9162, 2.1.3.2 and 2.1.4.2, step "if sn is 0").

    Also where the root that is asked for is the one that the further part leads to: else a tree
    could be shown under the size of one of its parts.
    """
    more = hashlib.sha256(b"more").digest()
    for size in range(1, 10):
        root = compute_plainly(LEAVES[:size])
        above = (root, merkle.hash_node(more, root), merkle.hash_node(root, more))
        for index in range(size):
            leaf = merkle.hash_leaf(LEAVES[index])
            proof = [*merkle.compute_inclusion_proof(index, size, read_node), more]
            assert not any(merkle.verify_inclusion(leaf, index, size, proof, top) for top in above)
        for size1 in range(1, size + 1):
            root1 = compute_plainly(LEAVES[:size1])
            proof = [*merkle.compute_consistency_proof(size1, size, read_node), more]
            for old in (root1, merkle.hash_node(more, root1)):
                assert not any(
                    merkle.verify_consistency(size1, old, size, top, proof) for top in above
                )


def test_nothing_follows_from_an_empty_tree():
    """The empty tree has the digest of nothing as root, and no consistency is shown from it."""
    assert merkle.Frontier().root() == hashlib.sha256(b"").digest() == merkle.EMPTY_ROOT
    assert not merkle.verify_consistency(0, merkle.EMPTY_ROOT, 5, compute_plainly(LEAVES[:5]), [])
