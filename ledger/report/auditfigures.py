"""The numbers that an audit tells beside its findings, topic by topic."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rich.console import RenderableType

from ledger.model.figure import Figure
from ledger.report.screen import say_lines, title


def list_figures(figures: Iterable[Figure]) -> Iterator[RenderableType]:
    """Yield each topic with its figures, one a line, in the order in which they were told."""
    topics: dict[str, list[str]] = {}
    for figure in figures:
        topics.setdefault(figure.topic, []).append(figure.sentence)
    for topic, sentences in topics.items():
        yield title(topic)
        yield say_lines(sentences, indent=2)
