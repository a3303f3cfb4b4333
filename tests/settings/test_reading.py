"""Settings of every general format become the same flat keys, with the text as written."""

from __future__ import annotations

import json

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import MalformedFileError
from ledger.settings.flat import MOST_DEPTH, MOST_KEYS, join_key
from ledger.settings.reading import read_settings

NESTED = """{"output": {"heights": "ellipsoidal", "scale": 0.0010, "arm": [0.10, -1, 2e-3]},
"control": {"used": false, "note": null}}"""


def keys(text: str | bytes) -> dict[str, str]:
    """Return the flat settings of a text."""
    content = text if isinstance(text, bytes) else text.encode()
    return {each.key: each.value for each in read_settings(content, "f").settings}


def test_json_keeps_numbers_as_they_were_written():
    """0.0010 stays 0.0010: the digits that a program wrote say how it rounds."""
    assert keys(NESTED) == {
        "output.heights": "ellipsoidal",
        "output.scale": "0.0010",
        "output.arm.0": "0.10",
        "output.arm.1": "-1",
        "output.arm.2": "2e-3",
        "control.used": "false",
        "control.note": "",
    }


@pytest.mark.parametrize(
    ("text", "form"),
    [
        ('{"out": {"heights": "ellipsoidal", "scale": 0.0010}}', "JSON"),
        ("<out><heights>ellipsoidal</heights><scale>0.0010</scale></out>", "XML"),
        ("[out]\nheights = ellipsoidal\nscale: 0.0010\n", "INI"),
        ('[out]\nheights = "ellipsoidal"\nscale = 0.0010\n', "TOML"),
        ("out:\n  heights: ellipsoidal\n  scale: 0.0010\n", "YAML"),
        ("out.heights = ellipsoidal\nout.scale=0.0010\n", "key = value"),
    ],
)
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_six_formats_say_the_same(text, form, ending, encoding):
    """The same two settings, in each format, line ending and encoding."""
    found = read_settings(text.replace("\n", ending).encode(encoding), "f")
    assert found.format == form
    values = {each.key.replace('"', ""): each.value for each in found.settings}
    assert values == {"out.heights": "ellipsoidal", "out.scale": "0.0010"}


def test_umlauts_of_an_old_windows_page_are_read():
    """Text that is no UTF-8 is code page 1252."""
    found = read_settings("[höhe]\nart = geländehöhe\n".encode("cp1252"), "f")
    assert found.encoding == "cp1252"
    assert found.settings[0].value == "geländehöhe"


def test_a_log_gives_its_pairs_without_time_and_level():
    """What a log says as `key: value` is read; its other lines are not."""
    text = (
        "2026-05-13T10:00:01.123Z [INFO] mount mode: drone\n"
        "2026-05-13 10:00:02,5 WARN loading 3 files\n"
        "10:00:03 DEBUG - heights = ellipsoidal\n"
    )
    assert keys(text) == {'"mount mode"': "drone", "heights": "ellipsoidal"}


def test_a_key_with_two_values_says_neither():
    """A key that is given twice, differently, is found under no single value."""
    for text in ("a = 1\na = 2\n", '{"a": 1, "a": 2}', "a: 1\na: 2\n"):
        found = read_settings(text.encode(), "f")
        assert found.find("a") is None
        assert {each.value for each in found.settings} == {"1", "2"}


def test_a_repeated_element_is_a_list():
    """XML says a list by repeating an element."""
    assert keys("<c><f>1</f><f>2</f></c>") == {"c.f.0": "1", "c.f.1": "2"}


def test_named_values_are_known_by_their_name():
    """A parameter keeps its name wherever it stands in the list."""
    text = '<c><p name="mount" value="drone"/><p name="range" value="90"/></c>'
    assert keys(text) == {"c.p.mount": "drone", "c.p.range": "90"}


@pytest.mark.parametrize(
    "text",
    [
        '<!DOCTYPE c [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><c>&b;</c>',
        '<!DOCTYPE c SYSTEM "file:///etc/passwd"><c/>',
        '<!DOCTYPE c [<!ENTITY x SYSTEM "file:///etc/passwd">]><c>&x;</c>',
    ],
)
def test_no_document_type_is_read(text):
    """Entities could grow without end, or fetch a file."""
    with pytest.raises(MalformedFileError, match="document type"):
        read_settings(text.encode(), "f")


def test_yaml_makes_no_object_and_follows_no_alias():
    """A tag makes text; a text with aliases is no settings file."""
    assert keys("a: !!python/object/apply:os.system [echo]\nb: 1\n") == {"a.0": "echo", "b": "1"}
    bomb = "a: &a [x, x]\n" + "".join(
        f"{chr(c)}: &{chr(c)} [*{chr(c - 1)}, *{chr(c - 1)}]\n" for c in range(98, 123)
    )
    found = read_settings(bomb.encode(), "f")
    assert found.format != "YAML"
    assert len(found.settings) < 100


@pytest.mark.parametrize(
    "text",
    [
        "[" * 100_000,
        '{"a":' * 2000 + "1" + "}" * 2000,
        "<a>" * 2000 + "</a>" * 2000,
        json.dumps({"a": list(range(MOST_KEYS + 1))}),
    ],
)
def test_depth_and_number_are_bounded(text):
    """What would exhaust stack or memory is refused in one line."""
    with pytest.raises(MalformedFileError):
        read_settings(text.encode(), "f")


def test_deep_yaml_is_no_settings():
    """Depth is bounded there as well; what is left is read as plain text or refused."""
    text = "".join(f"{' ' * n}a{n}:\n" for n in range(MOST_DEPTH * 3))
    with pytest.raises(MalformedFileError):
        read_settings(text.encode(), "f")


NAMES = st.text(st.characters(codec="utf-8", exclude_characters="\0\r"), min_size=1, max_size=8)
WORDS = st.text("abcdefgh", min_size=1, max_size=6)
TREES = st.recursive(
    st.text("ab 0.1:#'", min_size=1, max_size=5),
    lambda inner: st.dictionaries(WORDS, inner, min_size=1, max_size=3),
    max_leaves=6,
)


@given(st.dictionaries(WORDS, TREES, min_size=1, max_size=4))
def test_what_two_libraries_write_of_one_tree_is_read_alike(tree):
    """The writers of json and PyYAML stand outside the project; both give the same settings."""
    from_json = read_settings(json.dumps(tree).encode(), "f")
    from_yaml = read_settings(yaml.safe_dump(tree, sort_keys=False).encode(), "f")
    assert (from_json.format, from_yaml.format) == ("JSON", "YAML")
    assert from_json.settings == from_yaml.settings


@given(st.lists(st.lists(NAMES, min_size=1, max_size=3), min_size=2, max_size=2, unique_by=tuple))
def test_two_places_never_share_a_key(paths):
    """Names with dots, quotes and blanks are told apart."""
    first, second = paths
    assert join_key(first) != join_key(second)


@given(st.binary(max_size=300))
def test_any_bytes_end_in_settings_or_in_one_error(content):
    """No bytes give a traceback."""
    said = ""
    try:
        read_settings(content, "f")
    except MalformedFileError as error:
        said = str(error)
    assert "\n" not in said
