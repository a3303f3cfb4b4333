"""Asking a book about a file."""

from __future__ import annotations

from made_book import MadeBook

from ledger.trace import ChainNode, TraceResult, trace


def find_node(result: TraceResult, name: str) -> ChainNode:
    """Return the node of an id."""
    return next(node for node in result.chain if node.id == name)


def ask(book: MadeBook, path: str) -> TraceResult:
    """Return the trace of a file of the job."""
    return trace(book.folder, str(book.folder / path))
