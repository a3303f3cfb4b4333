"""Fixtures of the tests of this folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from named_cause import FLIGHT, RIG, Tell, make_card

from ledger.contract.check import Finding, Plan
from ledger.contract.evidence import Evidence
from ledger.contract.figures import Figure, require_figure
from ledger.crs import describe
from ledger.demo.geoids import write_geoids
from ledger.fixity import read_fixity
from ledger.model.artefact import FileRecord
from ledger.model.fieldlogs import FieldLogs, LogFile, Track
from ledger.model.sitegeoid import SiteGeoid
from ledger.model.specification import Specification
from ledger.testing import (
    make_evidence,
    make_table,
)
from lidar_checks.ground import named_cause
from lidar_checks.ground.named_cause import NamedCause, NamedCauseCriteria
from lidar_checks.ground.residuals import Residual


@pytest.fixture
def evidence(tmp_path: Path) -> Evidence:
    """Return the records of the made-up job, with both grids as files."""
    write_geoids(tmp_path)
    grids = [
        SiteGeoid(read_fixity(path).sha256, str(path)) for path in sorted(tmp_path.glob("*.tif"))
    ]
    coordinates = {
        "horizontal": "EPSG:6346",
        "vertical": "orthometric",
        "epoch": 2010.0,
        "geoid": {"name": "demo-geoid-A", "file": "geoid/demo-geoid-A.tif"},
    }
    log = LogFile("flight/nmea_0412.txt", "", "flight-log")
    receiver = Decimal("-31.2")
    return make_evidence(
        specification=Specification.model_validate({"coordinates": coordinates}),
        specified_crs=describe("EPSG:6346"),
        geoid_sha256=grids[0].sha256,
        geoid_grid=grids[0].path,
        geoids={each.sha256: each for each in grids},
        registered={
            each.sha256: FileRecord(f"geoid/{Path(each.path).name}", each.sha256, 1, 1, "geoid")
            for each in grids
        },
        flights=(make_card("F1", FLIGHT),),
        rigs=(make_card("G1", RIG),),
        tables=(make_table(()),),
        logs=FieldLogs(tracks=(Track(log, "sentences", separation_m=(receiver, receiver)),)),
    )


@pytest.fixture
def tell(evidence: Evidence, monkeypatch: pytest.MonkeyPatch) -> Tell:
    """Return a function that gives the findings for some residuals."""

    def find(residuals: Sequence[Residual], **changes: Any) -> list[Finding]:
        criteria = NamedCauseCriteria(**changes.pop("criteria", {}))
        given = replace(evidence, **changes)
        monkeypatch.setattr(named_cause, "list_residuals", lambda *_: tuple(residuals))
        told = list(NamedCause().finish(Plan(criteria, given.lattice), {}, given))
        for figure in told:
            if isinstance(figure, Figure):
                require_figure(NamedCause.id, figure)
        return [each for each in told if isinstance(each, Finding)]

    return find
