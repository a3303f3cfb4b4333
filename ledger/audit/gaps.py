"""What an audit has to say of itself: files not read, plugins not loaded, checks not there.

Such a gap belongs to the check id `audit`, which is always required: it never leaves a verdict
better than *incomplete*.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ledger.audit.delivery import CHANGED
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.hearing import Heard
from ledger.contract.origin import OWN_DISTRIBUTION
from ledger.model.audit import AUDIT_ITSELF, WHOLE_DELIVERY, PluginFault
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.model.phrases import count_things
from ledger.model.typed import quote_path


def tell_unread(files: Iterable[DeliveredFile], folder: str) -> tuple[Finding, ...]:
    """Return one finding for each file whose bytes could not be read or did not hold still.

    Args:
        files: the delivered files.
        folder: their folder, as it is typed in the job folder.
    """
    return tuple(
        _tell(
            file.path,
            f"{file.path} was not audited: {file.fault}.",
            (f"file: {file.fault}",),
            _name_remedy(file.fault, folder),
            Where(file=file.path),
        )
        for file in files
        if file.fault
    )


def tell_unhashed(files: Iterable[DeliveredFile], folder: str) -> tuple[Finding, ...]:
    """Return a finding where files of a store stayed without a digest.

    Args:
        files: the delivered files.
        folder: their folder, as it is typed in the job folder.
    """
    count = sum(not file.sha256 and not file.fault for file in files)
    if not count:
        return ()
    told = count_things(count, "file")
    return (
        _tell(
            WHOLE_DELIVERY,
            f"No digest was made of {told}: of what lies in a store, a quick audit reads headers "
            "alone. What made them is not known, nor whether they are whole.",
            ("digests: a quick audit reads none from a store",),
            f"Audit it whole (swathbook audit {quote_path(folder)}).",
            Where(),
        ),
    )


def tell_outline(evidence: Evidence) -> tuple[Finding, ...]:
    """Return a finding where `job.toml` names an outline of the site that nobody could use.

    Who names one wants the site held against it; a slip in the name is no way round that.
    """
    named, boundary = evidence.specification.delivery.boundary, evidence.boundary
    if named is None or (boundary is not None and not boundary.fault):
        return ()
    why = boundary.fault if boundary is not None else f"{named} was not found"
    return (
        _tell(
            WHOLE_DELIVERY,
            f"Nothing was held against the outline of the site that job.toml names: {why}.",
            (f"boundary: {why}",),
            "Put the file there, or put right what job.toml says of it (delivery.boundary, "
            "boundary_crs, coordinates.horizontal); # before the key leaves the outline out.",
            Where(),
        ),
    )


def tell_geoid_grid(evidence: Evidence) -> tuple[Finding, ...]:
    """Return a finding where `job.toml` names a geoid grid that is not there or cannot be read.

    Which geoid was applied is then not known, and a wrong one moves every height.
    """
    geoid = evidence.specification.coordinates.geoid
    if geoid is None or geoid.file is None or evidence.geoid_sha256:
        return ()
    why = f"{geoid.file} was not found or cannot be read"
    return (
        _tell(
            WHOLE_DELIVERY,
            f"Nothing was held against the geoid grid that job.toml names: {why}.",
            (f"geoid-grid: {why}",),
            "Put the grid there, or put right coordinates.geoid in job.toml; without its file the "
            "grid is left out.",
            Where(),
        ),
    )


def tell_lost(lost: Mapping[str, str], folder: str) -> tuple[Finding, ...]:
    """Return one finding for each file whose points no worker could read.

    Args:
        lost: why, by path.
        folder: their folder, as it is typed in the job folder.
    """
    again = f"swathbook audit {quote_path(folder)} --workers 1"
    return tuple(
        Finding(
            check=AUDIT_ITSELF,
            outcome=Outcome.ERRORED,
            subject=path,
            sentence=f"The points of {path} were not audited: {why}.",
            remedy=f"Audit again in one process ({again}); if that ends too, report it.",
            where=Where(file=path),
            plugin=OWN_DISTRIBUTION,
            revision=1,
        )
        for path, why in lost.items()
    )


def _name_remedy(fault: str, folder: str) -> str:
    if fault == CHANGED:
        again = f"swathbook audit {quote_path(folder)}"
        return f"Wait until nothing writes to the folder any more, then audit again ({again})"
    return "Put the file itself there, readable, or take it out of the folder."


def tell_plugin_faults(faults: Iterable[PluginFault]) -> tuple[Finding, ...]:
    """Return one finding for each plugin, or part of one, that could not be used."""
    return tuple(
        Finding(
            check=AUDIT_ITSELF,
            outcome=Outcome.ERRORED,
            subject=f"plugin {fault.plugin}",
            sentence=f"A plugin could not be used: {fault}. "
            "What it would have checked is not known.",
            remedy=f"Mend {fault.plugin}, or uninstall it.",
            plugin=OWN_DISTRIBUTION,
            revision=1,
        )
        for fault in faults
    )


def tell_absent(absent: Mapping[str, str]) -> tuple[Finding, ...]:
    """Return one finding for each check that is asked for and not there."""
    return tuple(
        Finding(
            check=name,
            outcome=Outcome.NOT_ASSESSED,
            subject=WHOLE_DELIVERY,
            sentence=f"Not assessed: {why}.",
            needs=(f"plugin: {why}",),
            remedy="Mend or install the plugin that supplies it.",
            plugin=OWN_DISTRIBUTION,
            revision=1,
        )
        for name, why in sorted(absent.items())
    )


def tell_printed(heard: Mapping[tuple[str, str], Heard]) -> tuple[Finding, ...]:
    """Return one observation for each plugin that printed instead of answering.

    Args:
        heard: what was left out, by name and version of the plugin.
    """
    return tuple(
        Finding(
            check=AUDIT_ITSELF,
            outcome=Outcome.NONCONFORMING,
            grade=Grade.OBSERVATION,
            subject=f"plugin {name}",
            sentence=f"{name} {version} printed {count_things(each.lines, 'line')}, "
            f"left out here and of no weight in the verdict. The first: {each.first}",
            remedy=f"If it matters, ask the authors of {name} to say it in a finding.",
            plugin=OWN_DISTRIBUTION,
            revision=1,
        )
        for (name, version), each in sorted(heard.items())
    )


def tell_no_check() -> Finding:
    """Return the finding of an audit without any check: nothing was tested."""
    return _tell(
        WHOLE_DELIVERY,
        "No check is installed, so nothing was tested.",
        ("plugin: no check is installed",),
        "Install Swathbook whole, with its checks.",
        Where(),
    )


def _tell(
    subject: str, sentence: str, needs: tuple[str, ...], remedy: str, where: Where
) -> Finding:
    return Finding(
        check=AUDIT_ITSELF,
        outcome=Outcome.NOT_ASSESSED,
        subject=subject,
        sentence=sentence,
        needs=needs,
        remedy=remedy,
        where=where,
        plugin=OWN_DISTRIBUTION,
        revision=1,
    )
