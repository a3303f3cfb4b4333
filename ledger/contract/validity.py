"""Whether what a plugin offered, or a check answered, keeps the rules of the contract."""

from __future__ import annotations

import math
import re
from collections.abc import Collection
from functools import cache

from ledger.contract.check import (
    Check,
    Criteria,
    Family,
    FamilyCheck,
    Finding,
    Grade,
    Outcome,
    PointCheck,
    SharedFinding,
    Where,
)
from ledger.contract.profile import Clause, Profile
from ledger.contract.shared import can_share
from ledger.errors import ContractError
from ledger.model.audit import AUDIT_ITSELF
from ledger.model.document import NotTested
from ledger.model.phrases import find_nearest
from ledger.model.specification import Specification
from ledger.specfile.keys import list_keys

_ID = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
_RESERVED = frozenset({AUDIT_ITSELF, "profile"})  # `criteria.profile` is a key, not a section
# A title stands in a list; a sentence on a screen, among others.
_LONGEST_TITLE = 200
_LONGEST_TEXT = 4000
_TEXT = f"text of at most {_LONGEST_TEXT} signs"
_TEXTS = ("catalogue", "needs", "fields", "specification_keys", "after", "explains")


def require_check(offered: object) -> Check:
    """Return what a plugin offered when it can be used as a check.

    Raises:
        ContractError: it is no check, or one of its claims has the wrong shape.
    """
    if not isinstance(offered, Check):
        raise ContractError("what was offered is no check", found=_describe(offered))
    _require_id("check", getattr(offered, "id", None))
    title = getattr(offered, "title", None)
    _require(
        isinstance(title, str) and bool(title.strip()) and len(title) <= _LONGEST_TITLE,
        offered.id,
        "title",
        f"text of at most {_LONGEST_TITLE} signs",
    )
    _require(
        _is_class(offered.criteria, Criteria), offered.id, "criteria", "a subclass of Criteria"
    )
    _require(_is_count(offered.revision), offered.id, "revision", "a whole number from 1")
    for name in _TEXTS:
        _require(_are_texts(getattr(offered, name), tuple), offered.id, name, "a tuple of texts")
    _require_keys(offered)
    sets = ("dimensions", "optional_dimensions") if isinstance(offered, PointCheck) else ()
    for name in ("dimensions", *sets):
        _require(
            _are_texts(getattr(offered, name), frozenset), offered.id, name, "a frozenset of texts"
        )
    if isinstance(offered, FamilyCheck):
        family = getattr(offered, "family", None)
        _require(isinstance(family, Family), offered.id, "family", "a Family")
    _require(
        isinstance(offered.always_required, bool), offered.id, "always_required", "True or False"
    )
    return offered


def require_profile(offered: object) -> Profile:
    """Return what a plugin offered when it can be used as a profile.

    Raises:
        ContractError: it is no profile, or its criteria have the wrong shape.
    """
    if not isinstance(offered, Profile):
        raise ContractError("what was offered is no profile", found=_describe(offered))
    _require_id("profile", offered.id)
    for check, fields in offered.criteria.items():
        for name, clause in fields.items():
            _require(isinstance(clause, Clause), offered.id, f"{check}.{name}", "a Clause")
    asked = isinstance(offered.not_tested, tuple)
    asked = asked and all(isinstance(each, NotTested) for each in offered.not_tested)
    _require(asked, offered.id, "not_tested", "a tuple of NotTested")
    _require(isinstance(offered.content, bytes), offered.id, "content", "bytes")
    return offered


def require_finding(check: Check, answered: object) -> Finding:
    """Return what a check answered when it can stand in an audit.

    Raises:
        ContractError: it is no finding, it speaks for another check, or parts contradict.
    """
    if type(answered) is Finding and _keeps_rules(check, answered):
        return answered
    if not isinstance(answered, Finding):
        raise ContractError("the check answered something else", found=_describe(answered))
    _require(answered.check == check.id, check.id, "check", f"the id of the check, {check.id}")
    _require(isinstance(answered.outcome, Outcome), check.id, "outcome", "an Outcome")
    _require(answered.outcome is not Outcome.ERRORED, check.id, "outcome", "any but errored: raise")
    graded = answered.outcome is Outcome.NONCONFORMING
    _require(
        isinstance(answered.grade, Grade) if graded else answered.grade is None,
        check.id,
        "grade",
        "a grade for a nonconformity, and none otherwise",
    )
    for name in ("subject", "sentence"):
        text = getattr(answered, name)
        _require(_is_text(text) and bool(text.strip()), check.id, name, _TEXT)
    for name in ("observed", "required", "unit", "criterion_source", "remedy"):
        _require(_is_text(getattr(answered, name)), check.id, name, _TEXT)
    for name in ("catalogue", "needs"):
        _require(_are_texts(getattr(answered, name), tuple), check.id, name, "a tuple of texts")
    _require_place(check.id, answered.where)
    _require(
        answered.outcome is not Outcome.NOT_ASSESSED or bool(answered.needs),
        check.id,
        "needs",
        "the names of the missing inputs",
    )
    return answered


def require_shared(check: Check, answered: SharedFinding) -> SharedFinding:
    """Return what a check answered about several files when it can stand in an audit.

    Raises:
        ContractError: it cannot be shared, names no file or one twice, or no file could be told so.
    """
    files = answered.files
    _require(
        _are_names(files) and len(set(files)) == len(files),
        check.id,
        "files",
        "a tuple of paths, each once",
    )
    finding = require_finding(check, answered.finding)
    _require(
        can_share(finding),
        check.id,
        "finding",
        "an answer about ANY_FILE, at its place, that is no nonconformity",
    )
    require_finding(check, answered.tell(max(files, key=len)))
    return answered


def _keeps_rules(check: Check, finding: Finding) -> bool:
    """Say at once that all is well with a finding as most are; if not, it is looked at in detail.

    An audit of many files has thousands.
    """
    where, outcome = finding.where, finding.outcome
    if type(outcome) is not Outcome or type(where) is not Where:
        return False
    graded = outcome is Outcome.NONCONFORMING
    texts = (
        finding.subject,
        finding.sentence,
        finding.observed,
        finding.required,
        finding.unit,
        finding.criterion_source,
        finding.remedy,
        where.file,
        where.cell,
        *(finding.catalogue if type(finding.catalogue) is tuple else (None,)),
        *(finding.needs if type(finding.needs) is tuple else (None,)),
    )
    return (
        finding.check == check.id
        and outcome is not Outcome.ERRORED
        and (type(finding.grade) is Grade if graded else finding.grade is None)
        and all(type(text) is str and len(text) <= _LONGEST_TEXT for text in texts)
        and bool(finding.subject.strip() and finding.sentence.strip())
        and where.xy is None
        and (where.lonlat is None or _are_numbers(where.lonlat))
        and where.time_span is None
        and where.strips == ()
        and where.strips == ()
        and (outcome is not Outcome.NOT_ASSESSED or bool(finding.needs))
    )


def _require_place(who: str, where: object) -> None:
    if not isinstance(where, Where):
        raise ContractError(f"where of {who} has the wrong shape", expected="a Where")
    _require(_is_text(where.file) and _is_text(where.cell), who, "where", "texts")
    for name in ("xy", "lonlat"):
        pair = getattr(where, name)
        _require(pair is None or _are_numbers(pair), who, f"where.{name}", "two finite numbers")
    span = where.time_span
    _require(
        span is None or (len(span) == 2 and _are_texts(span, tuple)),
        who,
        "where.time_span",
        "two texts",
    )
    _require(_are_texts(where.strips, tuple), who, "where.strips", "texts")


def _require_id(what: str, found: object) -> None:
    if not isinstance(found, str) or not _ID.fullmatch(found):
        raise ContractError(
            f"the id of a {what} is wrong", found=_describe(found), expected="kebab case"
        )
    if found in _RESERVED:
        raise ContractError(f"the id of a {what} is reserved", found=found)


def _require_keys(check: Check) -> None:
    known = _list_known_keys()
    for key in check.specification_keys:
        if key not in known:
            raise ContractError(
                f"specification_keys of {check.id} name no key of job.toml",
                found=key,
                remedy=f"did you mean {nearest}?" if (nearest := find_nearest(key, known)) else "",
            )


@cache
def _list_known_keys() -> frozenset[str]:
    """Return the dotted keys of a specification: a fact of its model, asked for by each check."""
    return frozenset(".".join(path) for path in list_keys(Specification))


def _require(holds: bool, who: str, part: str, expected: str) -> None:  # noqa: FBT001 - a guard
    if not holds:
        raise ContractError(f"{part} of {who} has the wrong shape", expected=expected)


def _is_class(found: object, base: type) -> bool:
    return isinstance(found, type) and issubclass(found, base)


def _is_count(found: object) -> bool:
    return isinstance(found, int) and not isinstance(found, bool) and found >= 1


def _are_numbers(pair: object) -> bool:
    return (
        isinstance(pair, tuple)
        and len(pair) == 2
        and all(isinstance(each, int | float) and math.isfinite(each) for each in pair)
    )


def _is_text(found: object) -> bool:
    return isinstance(found, str) and len(found) <= _LONGEST_TEXT


def _are_texts(found: object, kind: type[Collection[str]]) -> bool:
    return isinstance(found, kind) and all(_is_text(item) for item in found)


def _are_names(found: object) -> bool:
    """Say whether these are texts, and some: of many files, without a call for each."""
    return (
        type(found) is tuple
        and set(map(type, found)) == {str}
        and max(map(len, found)) <= _LONGEST_TEXT
    )


def _describe(found: object) -> str:
    return "nothing" if found is None else f"a {type(found).__name__}"
