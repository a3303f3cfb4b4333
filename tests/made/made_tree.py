"""The nodes of a made tree."""

from __future__ import annotations

from collections.abc import Iterable

from ledger import merkle


def build_nodes(contents: Iterable[bytes]) -> dict[tuple[int, int], bytes]:
    """Return the complete nodes of the tree over `contents`, by level and number."""
    frontier = merkle.Frontier()
    nodes = {}
    for content in contents:
        for level, number, joined in frontier.append(merkle.hash_leaf(content)):
            nodes[level, number] = joined
    return nodes
