"""The tree against published vectors.

Sources: the proof vectors of transparency-dev/merkle (Apache-2.0, 518 cases of RFC 6962 and RFC
9162 trees); the checkpoints of the test log of transparency-dev/tessera (Apache-2.0); the eight
leaves used by the public test suites of RFC 6962 section 2.1.
Known: read; the roots and proofs of the eight leaves read in a copy and recomputed.
"""

from __future__ import annotations

import base64
import json
from collections import Counter
from pathlib import Path

import pytest
from made_tree import build_nodes

from ledger import merkle

HERE = Path(__file__).parent

LEAVES = [
    bytes.fromhex(text)
    for text in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]
ROOTS = (
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
)
INCLUSION_IN_EIGHT = {
    0: (
        "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
    ),
    5: (
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    ),
}


@pytest.mark.parametrize("size", range(len(ROOTS)))
def test_published_roots(size: int) -> None:
    """The first n of the eight public leaves have the public root."""
    leaf_hashes = [merkle.hash_leaf(leaf) for leaf in LEAVES[:size]]
    assert merkle.compute_root(leaf_hashes).hex() == ROOTS[size]


@pytest.mark.parametrize("index", INCLUSION_IN_EIGHT)
def test_published_inclusion_proofs(index: int) -> None:
    """The audit paths of two leaves among eight are the public ones."""
    nodes = build_nodes(LEAVES)
    proof = merkle.compute_inclusion_proof(index, 8, lambda level, number: nodes[level, number])
    assert tuple(part.hex() for part in proof) == INCLUSION_IN_EIGHT[index]


def judge(kind: str, vector: dict) -> bool:
    """Return what our verifier says of one published vector."""
    proof = [base64.b64decode(part) for part in vector["proof"] or []]
    stored = {
        name: base64.b64decode(vector[name])
        for name in ("root", "root1", "root2", "leafHash")
        if name in vector
    }
    if kind == "inclusion":
        size = vector["treeSize"]
        index = vector["leafIdx"]
        return merkle.verify_inclusion(stored["leafHash"], index, size, proof, stored["root"])
    if kind == "consistency":
        sizes = vector["size1"], vector["size2"]
        roots = stored["root1"], stored["root2"]
        return merkle.verify_consistency(sizes[0], roots[0], sizes[1], roots[1], proof)
    leaves = range(vector["start"], vector["end"])
    if kind == "subtreeinclusion":
        index = vector["leafIdx"] - leaves.start
        return merkle.is_subtree(leaves) and merkle.verify_inclusion(
            stored["leafHash"], index, leaves.stop - leaves.start, proof, stored["root"]
        )
    return merkle.verify_subtree_consistency(
        leaves, stored["root1"], vector["size"], stored["root2"], proof
    )


def test_all_published_proofs_are_judged_as_published() -> None:
    """Each of the 518 published proofs is accepted or refused as its publisher says."""
    counts: Counter[str] = Counter()
    text = (HERE / "merkle" / "rfc6962-proofs.jsonl").read_text(encoding="utf-8")
    for line in text.splitlines():
        case = json.loads(line)
        kind = case["path"].split("/")[0]
        refused = not judge(kind, case["vector"])
        assert refused == case["vector"]["wantErr"], case["path"]
        counts[kind] += 1
    assert counts == {
        "inclusion": 98,
        "consistency": 98,
        "subtreeinclusion": 204,
        "subtreeconsistency": 118,
    }


def read_log_entries(content: bytes) -> list[bytes]:
    """Return the entries of a published entry bundle: each 2 bytes of length, then content."""
    entries = []
    while content:
        length = int.from_bytes(content[:2], "big")
        entries.append(content[2 : 2 + length])
        content = content[2 + length :]
    return entries


@pytest.mark.parametrize("size", range(16))
def test_published_log_has_our_roots(size: int) -> None:
    """Every checkpoint of a published log states the root that we compute from its entries."""
    folder = HERE / "tlog"
    entries = read_log_entries((folder / "entries-000.p-15").read_bytes())
    lines = (folder / f"checkpoint.{size}").read_text(encoding="utf-8").splitlines()
    assert int(lines[1]) == size
    root = merkle.compute_root(merkle.hash_leaf(entry) for entry in entries[:size])
    assert base64.b64encode(root).decode("ascii") == lines[2]
