"""Text of settings to nested values, by the general formats that programs write.

Nothing in a file is executed, fetched or expanded: no XML document type, no YAML alias or object.
Every value stays the text that was written, so that no digit is added or lost.
"""

from __future__ import annotations

import configparser
import json
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from xml.etree.ElementTree import Element, ParseError

import yaml
from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

from ledger.errors import MalformedFileError
from ledger.settings.flat import MOST_DEPTH, Nested

_PAIR = re.compile(r"^\s*(?P<key>[^=:#;\s][^=:]*?)\s*(?:=|:(?!//))\s*(?P<value>.*?)\s*$")
# The time, level and module that a log puts before its message.
_LOG_HEAD = re.compile(
    r"^\s*(?:\[?\d{4}-\d\d-\d\d[T ][\d:.,]+(?:Z|[+-]\d\d:?\d\d)?\]?|\[?\d\d:\d\d:\d\d[.,\d]*\]?)?"
    r"\s*(?:\[?(?:TRACE|DEBUG|INFO|NOTICE|WARN|WARNING|ERROR|FATAL)\]?)?\s*[-:|]?\s*",
    re.IGNORECASE,
)
_CLOCK = re.compile(r"\n|\d\d:\d\d:\d\d")
_SECTION = re.compile(r"^\s*\[[^\]\n]+\]\s*$", re.MULTILINE)

_REMEDY = "keep it with --evidence, and type the settings into the form"


def read_nested(text: str, where: str) -> tuple[str, Nested]:
    """Return the name of the format and the nested values of a text.

    Formats are tried from the strictest to the loosest; JSON and XML are told by how they begin,
    so that a damaged one is an error and no `key = value` text by accident.

    Args:
        text: the decoded file.
        where: its name, for messages.

    Raises:
        MalformedFileError: begins as JSON or XML and is damaged, or holds no settings at all.
    """
    start = text.lstrip()[:1]
    if start == "<":
        return "XML", _read_xml(text, where)
    if start in ("{", "["):
        found = _read_json_or_section(text, where)
        if found is not None:
            return found
    for name, reader in _LOOSE:
        nested = reader(text)
        if nested:
            return name, nested
    raise MalformedFileError(
        "holds no settings that can be read",
        expected="JSON, XML, INI, TOML, YAML, key = value lines or a log",
        where=where,
        remedy=_REMEDY,
    )


def _read_json_or_section(text: str, where: str) -> tuple[str, Nested] | None:
    try:
        return "JSON", _read_json(text)
    except RecursionError as error:
        raise MalformedFileError(
            "is nested too deeply for settings", where=where, remedy=_REMEDY
        ) from error
    except ValueError as error:
        if _SECTION.match(text.lstrip().split("\n", 1)[0]):
            return None  # `[section]` begins an INI or TOML text
        place, why = where, str(error)
        if isinstance(error, json.JSONDecodeError):
            place, why = f"{where} line {error.lineno}", error.msg
        raise MalformedFileError(f"is no JSON: {why}", where=place, remedy=_REMEDY) from error


def _read_json(text: str) -> Nested:
    keep: Callable[[str], str] = str
    words = ("false", "true")

    def soften(value: object) -> Nested:
        if isinstance(value, list):
            return [soften(inner) for inner in value]
        if isinstance(value, (dict, str)) or value is None:
            return value  # members were softened when their object was closed
        return words[value is True]

    def close(pairs: list[tuple[str, object]]) -> dict[str, Nested]:
        return _gather((name, soften(value)) for name, value in pairs)

    return soften(
        json.loads(
            text, parse_float=keep, parse_int=keep, parse_constant=keep, object_pairs_hook=close
        )
    )


def _read_xml(text: str, where: str) -> Nested:
    # An encoding that the text declares has been dealt with.
    body = re.sub(r"^\s*<\?xml[^>]*\?>", "", text)
    try:
        root = fromstring(body, forbid_dtd=True)
    except DefusedXmlException as error:
        raise MalformedFileError(
            "declares a document type or entities, which is not read", where=where, remedy=_REMEDY
        ) from error
    except ParseError as error:
        line, _ = error.position
        raise MalformedFileError(
            f"is no XML: {error.msg}", where=f"{where} line {line}", remedy=_REMEDY
        ) from error
    return {root.tag: _read_element(root, where, 0)}


def _read_element(element: Element, where: str, depth: int) -> Nested:
    if depth > MOST_DEPTH:
        raise MalformedFileError("is nested too deeply for settings", where=where, remedy=_REMEDY)
    members: dict[str, Nested] = {f"@{name}": value for name, value in element.attrib.items()}
    inner = (element.text or "").strip()
    if not members and not len(element):
        return inner
    if inner:
        members["#text"] = inner
    in_turn = _read_keys_in_turn(element, where, depth)
    if in_turn is not None:
        return {**members, **in_turn}
    for name in dict.fromkeys(child.tag for child in element):
        same = [_read_element(child, where, depth + 1) for child in element.findall(name)]
        members[name] = same[0] if len(same) == 1 else same
    return members


def _read_keys_in_turn(element: Element, where: str, depth: int) -> dict[str, Nested] | None:
    """Return what `<key>` and value, in turn, say, as a property list has them; else None."""
    children = list(element)
    keys, values = children[::2], children[1::2]
    if not values or len(keys) != len(values) or any(key.tag != "key" or len(key) for key in keys):
        return None
    return _gather(
        ((key.text or "").strip(), _read_element(value, where, depth + 1))
        for key, value in zip(keys, values, strict=True)
    )


def _read_toml(text: str) -> Nested:
    try:
        loaded = tomllib.loads(text, parse_float=str)
    except (tomllib.TOMLDecodeError, RecursionError):
        return None
    return _read_json(json.dumps(loaded, default=str))


def _read_ini(text: str) -> Nested:
    if not _SECTION.search(text):
        return None
    parser = configparser.RawConfigParser(
        strict=True, interpolation=None, allow_no_value=False, default_section="\0"
    )
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    try:
        parser.read_string(text)
    except configparser.Error:
        return None
    return {section: dict(parser[section]) for section in parser.sections()}


def _read_yaml(text: str) -> Nested:
    try:
        stack = _build(yaml.parse(text, Loader=yaml.CBaseLoader))
    except (yaml.YAMLError, _NoSettingsError):
        return None
    listed = stack if isinstance(stack, list) else [stack]
    meant = all(isinstance(each, Mapping) and _looks_meant(each) for each in listed)
    return stack if meant else None


def _looks_meant(nested: Mapping[str, Nested]) -> bool:
    """Say whether a mapping is YAML, and not a log whose first line happens to hold a colon."""
    return all(len(key) < 80 and not _CLOCK.search(key) for key in nested)


class _NoSettingsError(Exception):
    """The YAML uses what settings do not need: aliases, several documents, keys that nest."""


def _build(events: Iterator[yaml.Event]) -> Nested:
    """Return the nested values of YAML events; every scalar stays text, whatever its tag."""
    for event in events:
        if isinstance(event, (yaml.StreamStartEvent, yaml.DocumentStartEvent)):
            continue
        if isinstance(event, yaml.StreamEndEvent):
            return None
        nested = _build_node(event, events, 0)
        rest = [type(each) for each in events]
        if rest != [yaml.DocumentEndEvent, yaml.StreamEndEvent]:
            raise _NoSettingsError
        return nested
    return None


def _build_node(event: yaml.Event, events: Iterator[yaml.Event], depth: int) -> Nested:
    if depth > MOST_DEPTH or isinstance(event, yaml.AliasEvent):
        raise _NoSettingsError
    if isinstance(event, yaml.ScalarEvent):
        return str(event.value)
    if isinstance(event, yaml.SequenceStartEvent):
        items = []
        while not isinstance(inner := next(events), yaml.SequenceEndEvent):
            items.append(_build_node(inner, events, depth + 1))
        return items
    return _gather(_build_members(events, depth + 1))


def _build_members(events: Iterator[yaml.Event], depth: int) -> Iterator[tuple[str, Nested]]:
    while not isinstance(key := next(events), yaml.MappingEndEvent):
        if not isinstance(key, yaml.ScalarEvent):
            raise _NoSettingsError
        yield str(key.value), _build_node(next(events), events, depth)


def _read_pairs(text: str) -> Nested:
    """Read `key = value` and `key: value` lines, of plain text or of a log."""
    matches = (_PAIR.match(_LOG_HEAD.sub("", line, count=1)) for line in text.split("\n"))
    return _gather(
        (match["key"], match["value"])
        for match in matches
        if match is not None and len(match["key"]) <= 80 and match["value"]
    )


def _gather(pairs: Iterable[tuple[str, Nested]]) -> dict[str, Nested]:
    """Return a mapping; a key that is given different values says nothing for certain: a list."""
    found: dict[str, list[Nested]] = {}
    for key, value in pairs:
        values = found.setdefault(key, [])
        if value not in values:
            values.append(value)
    return {key: values[0] if len(values) == 1 else values for key, values in found.items()}


_LOOSE: tuple[tuple[str, Callable[[str], Nested]], ...] = (
    ("TOML", _read_toml),
    ("INI", _read_ini),
    ("YAML", _read_yaml),
    ("key = value", _read_pairs),
)
