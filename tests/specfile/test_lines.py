"""The line of a key is found wherever TOML allows a key to stand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.specfile.lines import locate

TEXT = """\
# remark with coordinates.unit in it
carried = ["a.b", "c"]

[coordinates]
unit = { horizontal = "feet", vertical = "metre" }
geoid.name = "g"

[a.b.c]
items = [
  1,
  2,
]
[x]
p = 1
[y]
[x.q]
r = 2
[[t]]
k = 1
[[t]]
k = 2
"quoted key" = 3
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("carried",), 2),
        (("carried", 1), 2),
        (("coordinates",), 4),
        (("coordinates", "unit", "horizontal"), 5),
        (("coordinates", "geoid"), 6),
        (("coordinates", "geoid", "name"), 6),
        (("a",), 8),
        (("a", "b", "c", "items"), 9),
        (("a", "b", "c", "items", 1), 11),
        (("x",), 14),  # a section in two pieces: its first key
        (("x", "q"), 16),
        (("x", "q", "r"), 17),
        (("t",), 18),
        (("t", 1, "k"), 21),
        (("t", 1, "quoted key"), 22),
        (("coordinates", "absent"), 4),
        (("coordinates", "unit", "absent", "deeper"), 5),
        (("absent", "key"), None),
        ((), None),
    ],
)
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_line_of_every_kind_of_key(path: tuple[str | int, ...], line: int, ending: str) -> None:
    """Tables, inline tables, dotted keys, lists and absent keys all give the right line."""
    assert locate(TEXT.replace("\n", ending), path) == line


def test_text_that_is_no_toml_has_no_lines() -> None:
    """A text that cannot be parsed gives no line and raises nothing."""
    assert locate("a = = 1", ("a",)) is None


@given(
    st.lists(st.sampled_from(["", "# remark", "text = 'k9 = 1'"]), max_size=6),
    st.integers(min_value=0, max_value=4),
    st.booleans(),
)
def test_line_is_where_the_key_was_put(before: list[str], after: int, section: bool) -> None:
    """Whatever stands around it, a key is found on the line that it was written to."""
    lines = [line if "=" not in line else f"{line[:4]}{place}{line[4:]}"
             for place, line in enumerate(before)]  # fmt: skip
    if section:
        lines.append("[s]")
    lines.append("k9 = 1")
    text = "\n".join([*lines, *[f"z{place} = 2" for place in range(after)]])
    assert locate(text, ("s", "k9") if section else ("k9",)) == lines.index("k9 = 1") + 1
