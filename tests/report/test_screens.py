"""Screens as a person reads them, held by golden files of 100 columns without colour.

`pytest tests/report --update-golden` writes them anew; read what changed before committing it.
"""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from rich.console import RenderableType

from ledger.copies import Copies
from ledger.model.acceptance import Acceptance
from ledger.model.artefact import FileRecord, FingerprintValue, Output
from ledger.model.audit import (
    AuditResult,
    CheckFacts,
    ChecksResult,
    Criterion,
    Plugin,
    PluginFault,
    Source,
)
from ledger.model.blanks import Blank
from ledger.model.entry import Entry
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.model.known import KnownBy, KnownValue
from ledger.model.lineage import CustodyState
from ledger.model.nextstep import NextStep
from ledger.model.process import Input
from ledger.model.verdict import Verdict
from ledger.rawplaces import Place
from ledger.recheck.states import CheckedFile, FileState, RecheckResult
from ledger.record.result import RecordResult
from ledger.register import LeftOutFile, RegisteredFile, RegisterResult
from ledger.report import audit as audit_view
from ledger.report import checks as checks_view
from ledger.report import recheck as recheck_view
from ledger.report import record as record_view
from ledger.report import register as register_view
from ledger.report import status as status_view
from ledger.report import trace as trace_view
from ledger.report.screen import make_console
from ledger.standing import FileChanges, Standing
from ledger.status import StatusLine, StatusResult
from ledger.trace.nodes import ChainNode, SettingChange, TraceResult

GOLDEN = Path(__file__).parent / "golden"
DIGEST = "0123456789abcdef" * 4
# A name that tries to change what a screen says: markup, new line, escape, turn of direction.
EVIL = "strip[bold]\n\x1b[31m\u202egnp.las"


def _print(screen: RenderableType) -> str:
    stream = io.StringIO()
    make_console(stream, width=100).print(screen)
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines()) + "\n"


def _record(path: str, role: str = "capture", fault: str = "") -> FileRecord:
    return FileRecord(path, DIGEST, 1_234_567, 0, role, {}, fault)


def _make_register() -> RenderableType:
    las = FileRecord(
        "raw/scan.las",
        DIGEST,
        30_000,
        0,
        "capture",
        {"point_format": 6, "version": "1.4", "points": 1000, "crs": "none"},
    )
    files = (
        RegisteredFile(_record("raw/cap_p1.bin"), new=True),
        RegisteredFile(las, new=False),
        RegisteredFile(_record(EVIL, "capture", "the file ends inside its header"), new=True),
    )
    place = Place(DIGEST, 1_234_567, "raw/cap_p1.bin", "/home", "1", "2026-05-14T08:00:00Z")
    copies = Copies(2, frozenset({DIGEST}), (place,))
    step = NextStep("swathbook record flight F1", "the field card, 30 seconds")
    left_out = (
        LeftOutFile("raw/card", "", "cannot be read: it is a link that leads to nothing"),
        LeftOutFile(EVIL, "", "cannot be read: it is a pipe, not a file"),
    )
    remarks = ("raw/A.las and raw/a.las differ only in upper and lower case",)
    return register_view.make_screen(
        RegisterResult(
            5, files, "F1", 2_500_000, 1, copies, step, left_out=left_out, remarks=remarks
        )
    )


def _make_record() -> RenderableType:
    fingerprint = FingerprintValue("1/10000/10000", 42, "a" * 32, "b" * 32, "c" * 32)
    return record_view.make_screen(
        RecordResult(
            entry=7,
            id="R1",
            kind="run",
            values={
                "run.software": KnownValue("demo-proc", known_by=KnownBy.READ),
                "run.lever_arm": KnownValue(["0.112", "0.004", "0.231"], "m"),
                "run.control_used": KnownValue(value=False),
                "run.mount_mode": KnownValue("drone", known_by=KnownBy.CARRIED, confirmed=False),
            },
            inputs=(Input(flight="F1"),),
            inputs_assumed=True,
            outputs=(Output(_record("out/R1/tile_01.laz", "points"), 42, fingerprint),),
            left_out=("out/other.las",),
            decision="undecided",
            blanks=(Blank("run.geoid_name", (), ("R1",), "a wrong geoid is not seen"),),
            step=NextStep("swathbook record decision R1 accepted", 'or rejected --reason "…"'),
        )
    )


def _finding(check: str, outcome: Outcome, subject: str, sentence: str, **parts: object) -> Finding:
    return Finding(check, outcome, subject, sentence, **parts)  # type: ignore[arg-type]


def _make_audit_result() -> AuditResult:
    stale = _finding(
        "custody-of-points",
        Outcome.NONCONFORMING,
        "tile_14.laz",
        "tile_14.laz was made by run R1, which was rejected on 14 May 2026.",
        grade=Grade.MAJOR,
        remedy="replace it with out/R2/tile_14.laz of run R2",
        catalogue=("RH-02",),
        where=Where(file="tile_14.laz", xy=(552120.0, 4272200.0)),
        criterion_source="step_max_m: default: common practice, no source",
    )
    thin = [
        _finding(
            "point-density",
            Outcome.NONCONFORMING,
            f"tile_{number:02d}.laz",
            f"tile_{number:02d}.laz is thin.",
            grade=Grade.MINOR,
            observed="3.1",
            required="4.0",
            unit="points/m²",
            remedy="fly it again",
        )
        for number in range(1, 6)
    ]
    gap = _finding(
        "height-chain",
        Outcome.NOT_ASSESSED,
        "R2",
        "Missing: run.geoid_name.",
        needs=("run.geoid_name",),
    )
    fine = _finding("classification", Outcome.CONFORMS, "delivery", "All classes are allowed.")
    plugin = Plugin("swathbook", "0.1.0", DIGEST, "lidar_checks")
    criterion = Criterion("step_max_m", 0.05, Source.DEFAULT, "common practice, no source")
    return AuditResult(
        entry=9,
        id="D1",
        folder="deliver",
        verdict=Verdict.DO_NOT_SEND,
        quick=False,
        manifest_sha256=DIGEST,
        manifest_root=DIGEST,
        specification=DIGEST,
        specification_entry=2,
        specification_by="technician",
        files=24,
        bytes=9_100_000,
        points=1_026_913,
        seconds=2.1,
        known_digests=0,
        findings=(stale, *thin, gap, fine),
        accepted={thin[0].id: Acceptance(thin[0].id, "site engineer", "a pond", 8)},
        checks=(
            CheckFacts(
                "height-chain",
                "Heights agree",
                ("SC-11",),
                1,
                plugin,
                required="always",
                specification_keys=("coordinates.geoid.name", "coordinates.vertical"),
            ),
            CheckFacts("seams", "No steps", ("VD-08",), 1, plugin, (criterion,), reads_points=True),
        ),
        blanks=(Blank("run.geoid_name", ("height-chain",), ("R2",)),),
        plugin_faults=(PluginFault("stranger", "2.0", "it does not import"),),
        not_traced=("report.pdf",),
    )


def _make_trace() -> RenderableType:
    run = ChainNode(
        "run",
        "R2",
        8,
        ("F1",),
        {
            "run.software": KnownValue("demo-proc"),
            "run.geoid_file": KnownValue(DIGEST, where="geoid/a.tif"),
            "run.mount_mode": KnownValue("drone", known_by=KnownBy.ASSUMED, confirmed=False),
        },
        by="technician",
        time="2026-05-14T10:00:00Z",
        run_before="R1",
        changes=(SettingChange("run.geoid_name", KnownValue("none"), KnownValue("a")),),
        not_recorded=("run.lever_arm", "run.frame"),
    )
    flight = ChainNode("flight", "F1", 5, ("012345678901",), {}, by="technician")
    raw = ChainNode(
        "file",
        "012345678901",
        5,
        (),
        {"role": KnownValue("capture"), "bytes": KnownValue(5), "sha256": KnownValue(DIGEST)},
        name="raw/cap_p1.bin",
    )
    tile = ChainNode("file", "aaaaaaaaaaaa", 8, ("R2",), {}, name=EVIL)
    audit = ChainNode(
        "audit",
        "D1",
        9,
        ("aaaaaaaaaaaa",),
        {"audit.verdict": KnownValue("fit to send")},
        name="deliver",
        time="2026-05-15T10:00:00Z",
    )
    return trace_view.make_screen(
        TraceResult(
            target=EVIL,
            path=EVIL,
            sha256=DIGEST,
            known=True,
            matched_by="digest",
            sentence="It was made by run R2, which was accepted.",
            state=CustodyState.ACCEPTED,
            chain=(audit, tile, run, flight, raw),
            not_recorded=("run.lever_arm", "run.frame"),
        )
    )


def _make_recheck() -> RenderableType:
    changed = CheckedFile(
        "deliver/tile_09.laz",
        FileState.CHANGED,
        DIGEST,
        "f" * 64,
        ("D1",),
        sentence="deliver/tile_09.laz is not the file that was audited in D1.",
    )
    values = {"id": "D1", "folder": "deliver", "verdict": "fit to send"}
    entry = Entry(9, "2026-05-14T08:00:00Z", "audit", 1, "technician", "test", values, b"")
    standing = Standing(entry, FileChanges(changed=("tile_09.laz",)))
    return recheck_view.make_screen(
        RecheckResult(
            "unbroken",
            None,
            "the book is unbroken: 11 entries",
            {FileState.AS_RECORDED: 89, FileState.CHANGED: 1},
            (changed,),
            (standing,),
            entry=12,
            bytes=28_200_000,
        )
    )


def _make_status() -> RenderableType:
    lines = (
        StatusLine("alarm", "The recheck of 14 May 2026 found 1 file missing.", is_alarm=True),
        StatusLine("raw data", "13 files registered."),
        StatusLine("outputs", "2 files in out have no run.", NextStep("swathbook record")),
    )
    return status_view.make_screen(StatusResult(Path("job"), lines))


def _make_checks() -> RenderableType:
    audit = _make_audit_result()
    plugins = tuple({check.plugin.name: check.plugin for check in audit.checks}.values())
    return checks_view.make_screen(ChecksResult(audit.checks, plugins, audit.plugin_faults))


SCREENS = {
    "register": _make_register,
    "record": _make_record,
    "audit": lambda: audit_view.make_screen(_make_audit_result()),
    "audit-all": lambda: audit_view.make_screen(_make_audit_result(), everything=True),
    "trace": _make_trace,
    "recheck": _make_recheck,
    "status": _make_status,
    "checks": _make_checks,
}


@pytest.mark.parametrize("name", sorted(SCREENS))
def test_screens_are_as_somebody_read_them(name: str, request: pytest.FixtureRequest) -> None:
    """Each screen is the one in its golden file."""
    path = GOLDEN / f"{name}.txt"
    shown = _print(SCREENS[name]())
    if request.config.getoption("--update-golden"):
        path.write_text(shown, encoding="utf-8", newline="\n")
    assert shown == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["register", "trace"])
def test_a_name_cannot_change_what_a_screen_says(name: str) -> None:
    """Markup, new lines, escapes and turns of direction in a file name are shown, not obeyed."""
    shown = _print(SCREENS[name]())
    assert "\x1b" not in shown
    assert "\u202e" not in shown
    joined = "".join(shown.split())
    assert "strip[bold]\\x0a\\x1b[31m\\u202egnp.las" in joined


@pytest.mark.parametrize("name", sorted(SCREENS))
def test_eighty_columns_are_enough(name: str) -> None:
    """No line of any screen is wider than 80 columns on a screen of 80."""
    stream = io.StringIO()
    make_console(stream, width=80).print(SCREENS[name]())
    assert max(len(line.rstrip()) for line in stream.getvalue().splitlines()) <= 80


def test_an_accepted_finding_says_who_took_it() -> None:
    """An acceptance stands beside its finding with function and reason."""
    assert re.search(r"accepted +by the site engineer: a pond", _print(SCREENS["audit"]()))
