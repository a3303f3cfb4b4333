"""A run is recorded on the day it was made: what is written down later is written from memory."""

from __future__ import annotations

from datetime import timedelta

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.late import LATE_AFTER, measure_delay
from ledger.model.process import Process
from lidar_checks.header.file_check import require_criteria
from lidar_checks.lineage.process_check import ProcessCheck


class LateRecordCriteria(Criteria):
    """How late a record may be."""

    max_delay_h: float = Field(
        default=LATE_AFTER / timedelta(hours=1), gt=0, description="common practice, no source"
    )


class LateRecord(ProcessCheck):
    """Compares the time of each record with the newest file that it names as an output."""

    id = "late-record"
    title = "Runs and steps were recorded when they were made"
    catalogue = ("RH-03",)
    criteria = LateRecordCriteria

    def judge(
        self,
        process: Process,
        plan: Plan,
        evidence: Evidence,  # noqa: ARG002 - as the base has it
    ) -> Finding:
        """Compare the day of the record with that of the files."""
        limit_h = require_criteria(plan, LateRecordCriteria).max_delay_h
        name = f"{process.kind} {process.id}"
        delay = measure_delay(process.time, (output.file for output in process.outputs))
        if delay is None:
            return self.inconclusive(process.id, f"No file of {name} has a time to compare with.")
        hours = delay / timedelta(hours=1)
        # Entries tell whole seconds, so that hours may be a little below zero: 0.0 then, not -0.0.
        told = f"{round(hours, 1) + 0.0:.1f}"
        parts = {"observed": told, "required": f"{limit_h:g}", "unit": "h"}
        if hours > limit_h:
            return self.nonconforming(
                Grade.OBSERVATION,
                process.id,
                f"{name} was recorded {hours / 24:.1f} days after its newest file was written"
                f" (limit {limit_h:g} h): what was typed was remembered.",
                criterion_source="common practice, no source",
                remedy=f"Compare what was typed (swathbook trace {process.id}) with the settings "
                "that the program still holds",
                **parts,
            )
        if hours < -limit_h:
            return self.inconclusive(
                process.id,
                f"The newest file of {name} is {-hours:.1f} h younger than its record: a clock is"
                " wrong.",
                **parts,
            )
        return self.conforms(
            process.id,
            f"{name} was recorded {max(hours, 0.0):.1f} h after its newest file.",
            **parts,
        )
