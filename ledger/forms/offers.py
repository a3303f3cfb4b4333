"""Ready answers to a question: a person chooses one and need not type what a file or the book says.

An offer may answer several fields: a geoid grid has its name, its version and its file. What it
names is read again when it is chosen; where other bytes lie there now, what was known of the old
ones is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field

from ledger.dataclass import dataclass
from ledger.model.field import Field, FieldType
from ledger.model.known import KnownValue

TYPED = "another one, to be typed"


@dataclass(frozen=True)
class Offer:
    """One ready answer.

    Args:
        text: as it is shown: `demo-geoid-A, version 1 (geoid/demo-geoid-A.tif)`.
        values: the answer, and answers to other fields that go with it, by field key.
        known_of: keys of those answers that were told of the bytes of the file among them.
    """

    text: str
    values: Mapping[str, KnownValue]
    known_of: frozenset[str] = field(default_factory=frozenset)


def find_default(asked: Field, offers: Sequence[Offer], default: str) -> str:
    """Return what is marked: the offer that gives the default, else the typed answer, else nothing.

    Args:
        asked: the question.
        offers: what is offered.
        default: the answer that stands there already; empty for none.
    """
    same = (each.text for each in offers if str(each.values[asked.key].value) == default)
    return next(same, TYPED if default else "")


def take_offer(
    offer: Offer, fields: Mapping[str, Field], read: Callable[[Field, str], KnownValue | None]
) -> tuple[dict[str, KnownValue], bool]:
    """Return the answers of an offer that was chosen, and whether other bytes lie there now.

    Args:
        offer: what was chosen.
        fields: fields by key.
        read: reads the file that an answer names, at its path; None where none lies there.
    """
    answers = dict(offer.values)
    changed = False
    for key, known in offer.values.items():
        if fields[key].type is not FieldType.FILE:
            continue
        now = read(fields[key], known.where)
        if now is not None and now.value != known.value:
            answers[key] = now
            changed = True
    if changed:
        answers = {key: known for key, known in answers.items() if key not in offer.known_of}
    return answers, changed
