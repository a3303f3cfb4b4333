"""Numbers agree with their nouns: every counted noun goes through one helper.

Rules of English, no source needed; what is tried is that no sentence says "1 points".
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from ledger.model.phrases import agree, count_things, tell_carried

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted(path for folder in ("ledger", "plugins") for path in (ROOT / folder).rglob("*.py"))
NOUNS = (
    *("answer", "audit", "blob", "byte", "cell", "check", "class", "digest", "entry", "fault"),
    *("field", "file", "finding", "flight", "geoid", "group", "header", "item", "line"),
    *("output", "part", "pair", "point", "pulse", "question", "record", "result", "return"),
    *("run", "seam", "strip", "tile", "time", "value", "version", "way", "word"),
)
_BETWEEN = ("delivered", "different", "earlier", "more", "other", "single", "stated")
_COUNTED = re.compile(
    rf" (?:(?:{'|'.join(_BETWEEN)}) )?(?:(?:{'|'.join(NOUNS)})(?:s|es)|entries)\b"
)
_HELPERS = ("count_things", "describe_bytes")


def list_bare_counts(source: str) -> Iterator[tuple[int, str]]:
    """Yield line and text where a number stands before a plural without the helper."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.JoinedStr):
            continue
        for value, text in zip(node.values, node.values[1:], strict=False):
            if isinstance(value, ast.FormattedValue) and isinstance(text, ast.Constant):
                found = _COUNTED.match(str(text.value))
                if found and looks_like_number(value):
                    yield node.lineno, f"{ast.unparse(value.value)}{found[0]}"


def looks_like_number(value: ast.FormattedValue) -> bool:
    """Say whether what is put in may be a count: not text from a helper, nor a fraction."""
    if value.format_spec is not None and ast.unparse(value.format_spec) != "f','":
        return False
    if isinstance(value.value, ast.Call):
        name = ast.unparse(value.value.func).rpartition(".")[2]
        return name in ("len", "sum", "int") and name not in _HELPERS
    return True


@pytest.mark.parametrize(
    ("number", "told"), [(0, "0 points"), (1, "1 point"), (2, "2 points"), (1065, "1,065 points")]
)
def test_a_number_is_told_with_its_noun(number: int, told: str) -> None:
    """Only one takes the singular; thousands are set apart."""
    assert count_things(number, "point") == told


def test_a_verb_agrees_with_its_number() -> None:
    """A point has, points have; no point counts as several."""
    assert [agree(number, "has", "have") for number in (0, 1, 2)] == ["have", "has", "have"]


def test_a_bare_count_is_seen() -> None:
    """What the next test looks for is found where it is planted, and the helper is let through."""
    planted = 'f"{len(files)} files and {n:,} other points"'
    assert [text for _, text in list_bare_counts(planted)] == [
        "len(files) files",
        "n other points",
    ]
    helped = "f\"{count_things(n, 'file')} of {name} lie here\""
    assert not list(list_bare_counts(helped))


@pytest.mark.parametrize("path", SOURCES, ids=[str(p.relative_to(ROOT)) for p in SOURCES])
def test_no_number_stands_before_a_plural_of_its_own(path: Path) -> None:
    """A number and its noun are put together by the helper, which knows of one."""
    found = list(list_bare_counts(path.read_text(encoding="utf-8")))
    assert not found, "; ".join(f"line {line}: {text}" for line, text in found)


def test_one_key_and_several_that_were_carried() -> None:
    """Verb and pronoun agree with the number of keys."""
    assert tell_carried(["a.b"]) == (
        "But a.b was taken from the last job and nobody confirmed it.",
        "Look at a.b in job.toml; if right, delete it from carried.",
    )
    assert tell_carried(["a.b", "c"]) == (
        "But a.b and c were taken from the last job and nobody confirmed them.",
        "Look at a.b and c in job.toml; if right, delete them from carried.",
    )
