"""One check run as an audit runs it: real headers, real points, the real runner; without a book."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from ledger.audit.delivery import read_delivery
from ledger.audit.folder import list_folder
from ledger.audit.specified import add_grid
from ledger.audit.wishes import settle_wishes
from ledger.contract.check import Check, Finding
from ledger.contract.evidence import Evidence
from ledger.contract.guard import Guard
from ledger.contract.registry import RegisteredCheck, Registry
from ledger.contract.runner import Runner
from ledger.lattice import choose_common_lattice
from ledger.model.ask import NoProgress
from ledger.model.audit import Plugin
from ledger.specfile.reading import read_leniently
from ledger.testing.tiles import TileSet

_SPECIFICATION_NAME = "job.toml"
_PLUGIN = Plugin("under-test", "0", "0" * 64, "under_test")


def run_check(
    check: Check,
    survey: TileSet | Path,
    specification: str = "",
    *,
    beside: Sequence[Check] = (),
    **parts: Any,  # noqa: ANN401 - fields of Evidence
) -> tuple[Finding, ...]:
    """Run one check over a folder as an audit does and return what it finds, worst first.

    Args:
        check: the check.
        survey: a survey, or the folder that would be sent.
        specification: the text of `job.toml`, with `[criteria.ID]` for the check's thresholds.
        beside: other checks of the same audit, for one that waits for their findings.
        parts: what a job's book would add, as fields of `Evidence` (`processes`, `flights`,
            `registered` …), or `quick=True` for an audit that reads no points.

    Raises:
        SpecificationError: the specification cannot be used, or the check's model refuses it.
        UsageError: there is no file in the folder.
    """
    folder = survey.folder if isinstance(survey, TileSet) else survey
    reading = read_leniently(specification.encode("utf-8"), _SPECIFICATION_NAME)
    registered = tuple(RegisteredCheck(each, _PLUGIN) for each in (check, *beside))
    registry = Registry(registered, plugins=(_PLUGIN,))
    # What a check prints is what its author wants to see.
    guard = Guard(quiet=False)
    wishes = settle_wishes(reading, registry, guard)
    specified = add_grid(wishes.specified, wishes.specification, folder.parent)
    silent = NoProgress()
    files = read_delivery(list_folder(folder), {}, silent)
    headers = [each.file.header for each in files if each.file.header is not None]
    given: dict[str, Any] = {
        "specified_crs": specified.horizontal,
        "specified_vertical": specified.vertical,
        "geoid_sha256": specified.geoid_sha256,
        "geoid_grid": specified.geoid_grid,
        **parts,
    }
    delivered = tuple(each.file for each in files)
    lattice = choose_common_lattice(headers)
    evidence = Evidence(folder.name, wishes.specification, delivered, lattice, **given)
    runner = Runner(wishes.settled.enabled, guard)
    runner.judge_records(evidence)
    if not evidence.quick:
        paths = {each.file.path: each.found.path for each in files}
        results = runner.read_points(evidence, paths, silent)
        read = tuple(
            replace(file, reading=results[file.path].facts) if file.path in results else file
            for file in delivered
        )
        evidence = replace(evidence, files=read)
    return tuple(each for each in runner.judge_all(evidence) if each.check == check.id)
