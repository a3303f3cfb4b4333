"""Answers that stand already, shown together: a person says which of them are not right now.

Pure rules. What an answer follows from is shown before it, and where the one is not right the other
is asked again: the version of a geoid says nothing about another geoid, nor a geoid about other
heights.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from ledger.model.field import Field, FieldType
from ledger.model.known import KnownBy, KnownValue, show_value


def list_shown(
    fields: Iterable[Field],
    defaults: Mapping[str, KnownValue],
    known: Mapping[str, KnownValue],
    passed: Collection[str],
) -> dict[str, KnownValue]:
    """Return the answers that stand already to questions of a form, in asking order.

    Args:
        fields: the questions, in asking order.
        defaults: the answer that Enter would take, by field key.
        known: what the record has: given, answered, or in the book.
        passed: keys of questions that are not asked any more.
    """
    shown: dict[str, KnownValue] = {}
    for each in fields:
        default = defaults.get(each.key)
        if default is None or each.key in passed or not each.is_wanted({**known, **shown}):
            continue
        shown[each.key] = default
    return shown


def add_followers(fields: Iterable[Field], keys: Collection[str]) -> frozenset[str]:
    """Return these keys and those of all fields that mean something, or are sure, only with them.

    Args:
        fields: in asking order, so that a follower of a follower is found.
        keys: keys of fields.
    """
    found = set(keys)
    for each in fields:
        if {each.when[0], *each.follows, *each.doubted_with} & found:
            found.add(each.key)
    return frozenset(found)


def drop_stale(
    fields: Iterable[Field],
    carried: Mapping[str, KnownValue],
    answers: Mapping[str, KnownValue],
) -> dict[str, KnownValue]:
    """Return what is carried, less what followed from something that has another answer now."""
    other = {
        key
        for key, known in answers.items()
        if key in carried and (known.value, known.unit) != (carried[key].value, carried[key].unit)
    }
    stale = add_followers(fields, other) - other
    return {key: known for key, known in carried.items() if key not in stale}


def write_shown(field: Field, known: KnownValue) -> str:
    """Return one answer as a line: the question, the value, and whether it is only assumed."""
    value = known.where if field.type is FieldType.FILE else show_value(known)
    assumed = " (assumed)" if known.known_by is KnownBy.ASSUMED else ""
    return f"{field.question}: {value}{assumed}"
