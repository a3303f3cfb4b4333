"""Errors in runs, steps and what they made."""

from __future__ import annotations

from typing import Any

from made_raw import make_job
from planted import Planted, record

from ledger.contract.evidence import Evidence
from ledger.model.artefact import FileRecord, Output
from ledger.model.jobrecords import Precedent
from ledger.model.known import KnownBy, KnownValue
from ledger.model.lineage import Custody, CustodyState, Line, MatchedBy
from ledger.model.process import Decision, Input, Process
from ledger.testing import make_file
from lidar_checks.header.software_version import SoftwareVersion
from lidar_checks.lineage.custody_of_points import CustodyOfPoints
from lidar_checks.lineage.late_record import LateRecord
from lidar_checks.lineage.point_balance import PointBalance
from lidar_checks.lineage.run_complete import RunComplete
from lidar_checks.lineage.run_inputs import RunInputs
from lidar_checks.lineage.settings_kept import SettingsKept
from lidar_checks.lineage.unconfirmed_values import UnconfirmedValues

# 14 May 2026, 12:00 UTC, in seconds since 1970.
_NOON = 1_778_760_000
_MINE, _STRANGE = "a" * 64, "b" * 64


def _make(name: str, points: dict[str, int] | None = None, **parts: Any) -> Process:
    """Return an accepted run or step, recorded at noon, with settings by name.

    `hours` is how long before that its files were written; their digests are their paths.
    """
    inputs = parts.pop("inputs", (Input(flight="F1"),))
    decision = parts.pop("decision", Decision.ACCEPTED)
    written = (_NOON - round(parts.pop("hours", 1) * 3600)) * 10**9
    made = tuple(
        Output(FileRecord(path, path, 1, written, "points"), points=count)
        for path, count in (points or {"a.las": 100}).items()
    )
    kind = "run" if name.startswith("R") else "step"
    values = {
        f"{kind}.{key}": value if isinstance(value, KnownValue) else KnownValue(value)
        for key, value in parts.items()
    }
    number, time = int(name[1:]), "2026-05-14T12:00:00Z"
    return Process(
        name, kind, "", number, time, "technician", decision, number, "", values, inputs, made
    )


def _deliver(*processes: Process, **parts: Any) -> Evidence:
    """Return what the last of some processes made, with all of them on record."""
    last = processes[-1]
    state = CustodyState.ACCEPTED if last.decision is Decision.ACCEPTED else CustodyState.STALE
    custody = Custody(state, MatchedBy.DIGEST, (Line(tuple(reversed(processes))),))
    files = [
        make_file(each.file.path, sha256=each.file.sha256, custody=custody) for each in last.outputs
    ]
    return make_job(processes=processes, files=files, **parts)


def _share(heights: str) -> Evidence:
    """Return a tile that two runs are said to have made, the first with orthometric heights."""
    runs = [
        _make("R1", output_height_type="orthometric"),
        _make("R2", output_height_type=heights),
    ]
    lines = tuple(Line((run,)) for run in runs)
    custody = Custody(CustodyState.ACCEPTED, MatchedBy.DIGEST, lines)
    return make_job(processes=tuple(runs), files=(make_file("a.las", custody=custody),))


def _deliver_orphan() -> Evidence:
    """Return a tile that nobody recorded."""
    orphan = make_file("a.las", custody=Custody(CustodyState.ORPHAN, MatchedBy.NOTHING))
    return make_job(files=(orphan,))


def _clean(left: int, removed: str) -> Evidence:
    """Return a step on 1,000 points."""
    used = (Input(sha256="a.las", path="a.las", role="points"),)
    said = {"kind": "cleaning", "removed": removed}
    return _deliver(_make("R1", {"a.las": 1000}), _make("S1", {"b.las": left}, inputs=used, **said))


def _use(digest: str) -> Evidence:
    """Return a run on one file, where that of `_MINE` is registered."""
    used = (Input(sha256=digest, path="cap.bin", role="capture"),)
    return _deliver(_make("R1", inputs=used), own_digests=frozenset({_MINE}))


def _follow(points: int) -> Evidence:
    """Return a run after one of 1,000 points."""
    former = _make("R1", {"a.las": 1000})
    return _deliver(_make("R2", {"a.las": points}), precedents={"R2": Precedent(former=former)})


def _keep(**settings: str) -> Evidence:
    """Return a run after an accepted one of 90 m range."""
    accepted = _make("R1", range_max="90", mount_mode="drone")
    kept: dict[str, Any] = {"range_max": "90", "mount_mode": "drone", **settings}
    run = _make("R2", **kept)
    return _deliver(run, precedents={"R2": Precedent(accepted=accepted)})


def _version(second: str) -> Evidence:
    """Return two runs of one program."""
    runs = [
        _make("R1", {"a.las": 9}, software="demo-proc", version="4.1.0"),
        _make("R2", {"b.las": 9}, software="demo-proc", version=second),
    ]
    files = [
        make_file(
            run.outputs[0].file.path,
            custody=Custody(CustodyState.ACCEPTED, MatchedBy.DIGEST, (Line((run,)),)),
        )
        for run in runs
    ]
    return make_job(processes=tuple(runs), files=files)


_GUESS = KnownValue("drone", known_by=KnownBy.ASSUMED, confirmed=False)

CASES: tuple[Planted, ...] = (
    record(
        "a tile of a rejected run",
        CustodyOfPoints(),
        _deliver(_make("R1", decision=Decision.REJECTED)),
        _deliver(_make("R1")),
    ),
    record(
        "a tile that nobody recorded", CustodyOfPoints(), _deliver_orphan(), _deliver(_make("R1"))
    ),
    record(
        "a tile of two runs with other heights",
        CustodyOfPoints(),
        _share("ellipsoidal"),
        _share("orthometric"),
    ),
    record(
        "a run recorded late",
        LateRecord(),
        _deliver(_make("R1", hours=24.1)),
        _deliver(_make("R1", hours=24.0)),
        gate="24.1 h against 24 h",
    ),
    record(
        "a point that nobody accounts for",
        PointBalance(),
        _clean(900, "noise 99"),
        _clean(900, "noise 100"),
        gate="1 point against none",
    ),
    record(
        "a run that ended with an error",
        RunComplete(),
        _deliver(_make("R1", exit_status=1)),
        _deliver(_make("R1", exit_status=0)),
    ),
    record(
        "a run that lost points",
        RunComplete(),
        _follow(899),
        _follow(900),
        gate="89.9 % of the points before against 90 %",
    ),
    record("a file that nobody registered", RunInputs(), _use(_STRANGE), _use(_MINE)),
    record(
        "a range that was changed without a reason",
        SettingsKept(),
        _keep(range_max="89.9"),
        _keep(range_max="90.0"),
        gate="89.9 m against 90.0 m after 90 m",
    ),
    record("two versions of a program", SoftwareVersion(), _version("4.1.1"), _version("4.1.0")),
    record(
        "a setting that nobody looked up",
        UnconfirmedValues(),
        _deliver(_make("R1", mount_mode=_GUESS)),
        _deliver(_make("R1", mount_mode="drone")),
    ),
)
