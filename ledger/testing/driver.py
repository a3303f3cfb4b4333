"""One check driven by hand: prepare, start, chunk, close, finish, without the auditor around it.

For a check under development and for the laws of its tallies. `run_check` runs a check as an audit
does.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Check, Criteria, Finding, Plan, PointCheck, Tally
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.feeds import make_feed
from ledger.contract.shared import spread
from ledger.errors import ContractError
from ledger.model.chunk import Lattice, PointChunk
from ledger.model.specification import Specification
from ledger.testing.chunks import METRES, restrict

NO_DIGEST = "0" * 64


def make_file(path: str = "tile.laz", **parts: Any) -> DeliveredFile:  # noqa: ANN401 - fields of DeliveredFile
    """Return a delivered point file of which nothing is known but its path and `parts`."""
    given: dict[str, Any] = {"sha256": NO_DIGEST, "bytes": 0, "kind": "points", **parts}
    return DeliveredFile(path=path, **given)


def make_evidence(
    *files: DeliveredFile,
    lattice: Lattice = METRES,
    **parts: Any,  # noqa: ANN401 - fields of Evidence
) -> Evidence:
    """Return evidence about these files, with an empty specification unless `parts` has one."""
    given: dict[str, Any] = {"folder": "out", "specification": Specification(), **parts}
    return Evidence(files=tuple(files), lattice=lattice, **given)


def make_criteria(check: Check, criteria: Mapping[str, Any] | Criteria | None) -> Criteria:
    """Return the criteria of a check, validated as the section of a specification is.

    Raises:
        pydantic.ValidationError: the check's own model refuses them.
    """
    if isinstance(criteria, Criteria):
        return criteria
    return check.criteria.model_validate_json(json.dumps(criteria or {}))


def prepare_check(
    check: Check, evidence: Evidence, criteria: Mapping[str, Any] | Criteria | None = None
) -> Plan:
    """Return the plan of a check, and of its family with this check as the only member."""
    plan = check.prepare(evidence, make_criteria(check, criteria))
    if isinstance(check, PointCheck):
        make_feed({check.id: check}, {check.id: plan}, evidence)
    return plan


def fill_tally(
    check: PointCheck, plan: Plan, file: DeliveredFile, chunks: Iterable[PointChunk]
) -> Tally:
    """Return a tally that has seen `chunks`, cut down to the fields that the check names."""
    wanted = check.dimensions | check.optional_dimensions
    tally = check.start(plan, file)
    for chunk in chunks:
        tally.chunk(restrict(chunk, wanted))
    return tally


def drive_check(
    check: Check,
    evidence: Evidence,
    chunks: Mapping[str, Iterable[PointChunk]] | None = None,
    criteria: Mapping[str, Any] | Criteria | None = None,
) -> tuple[Finding, ...]:
    """Run one check over chunks made by hand and return what it finds.

    Args:
        check: the check.
        evidence: what is known; one of its files for each key of `chunks`.
        chunks: points by path of the file; None for a check that reads none.
        criteria: its thresholds; None for the defaults.

    Raises:
        ContractError: chunks for a file that the evidence does not have.
    """
    plan = prepare_check(check, evidence, criteria)
    summaries: dict[str, Any] = {}
    files = {file.path: file for file in evidence.files}
    for path, slices in (chunks or {}).items():
        if path not in files:
            raise ContractError(f"no file {path} in the evidence", expected=", ".join(files))
        if isinstance(check, PointCheck):
            summaries[path] = fill_tally(check, plan, files[path], slices).close()
    return tuple(spread(check.finish(plan, summaries, evidence)))
