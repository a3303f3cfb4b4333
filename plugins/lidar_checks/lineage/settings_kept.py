"""Settings of a run are those of the last accepted one, or somebody said why they are not.

A new project, a new version or another user's profile sets values back without a word. Held against
each run is the last accepted one of this job, and for the first run that of the job that this one
was begun like. There another site and another client may want other settings, so that a difference
is only told; what `job.toml` states is held against the run by other checks.
"""

from __future__ import annotations

from collections.abc import Iterable

from ledger.contract.check import Evidence, Finding, Grade, Plan
from ledger.dataclass import dataclass
from ledger.model.jobrecords import Precedent
from ledger.model.known import KnownValue
from ledger.model.phrases import count_things
from ledger.model.process import Process
from ledger.model.weight import Weight, is_equal, weigh
from lidar_checks.lineage.process_check import ProcessCheck
from lidar_checks.settings.wording import show_value

_SOURCE = "common practice, no source"
# The program and its version have a check of their own; what was removed is no setting.
_NOT_SETTINGS = frozenset(
    {"software", "version", "command", "trajectory", "kind", "removed", "settings"}
)
_TOLD = 4


@dataclass(frozen=True)
class _Difference:
    """One setting with another value than last time."""

    name: str
    before: KnownValue
    after: KnownValue

    @property
    def weight(self) -> Weight:
        return weigh(self.name)

    def describe(self) -> str:
        unit = f" {self.after.unit}" if self.after.unit else ""
        return f"{self.name} {show_value(self.before.value)} → {show_value(self.after.value)}{unit}"


class SettingsKept(ProcessCheck):
    """Holds the recorded settings of each run against those of the last accepted one."""

    id = "settings-kept"
    title = "Settings are those of the last accepted run, or the change was meant"
    catalogue = ("PS-02",)
    needs = ("records",)

    def judge(
        self,
        process: Process,
        plan: Plan,  # noqa: ARG002 - as the base has it
        evidence: Evidence,
    ) -> Finding:
        """Compare the settings with those of the last accepted run."""
        precedent = evidence.job.precedents.get(process.id, Precedent())
        before, name = precedent.accepted, f"{process.kind} {process.id}"
        if before is None:
            return self.inconclusive(
                process.id,
                f"No accepted {process.kind} before {process.id} is known that its settings could "
                "be held against.",
            )
        other = f"{before.id} of job {precedent.job}" if precedent.job else before.id
        shared = _list_shared(before, process)
        if not shared:
            return self.inconclusive(
                process.id, f"{name} and {other} have no recorded setting in common."
            )
        told = sorted(
            (each for each in shared if not is_equal(each.before, each.after)),
            key=lambda each: (list(Weight).index(each.weight), each.name),
        )
        matter = [each for each in told if each.weight is not Weight.COSMETIC]
        if matter:
            return self._tell_changed(process, other, told, matter, is_here=not precedent.job)
        beside = f"; only {', '.join(each.name for each in told)} differ" if told else ""
        doubtful = sorted(each.name for each in shared if not each.after.can_prove)
        if doubtful:
            return self.inconclusive(
                process.id,
                f"{name} is recorded with the settings of {other}{beside}, but nobody confirmed "
                f"{', '.join(doubtful)}.",
            )
        settings = count_things(len(shared) - len(told), "setting")
        return self.conforms(process.id, f"{name} has {settings} in common with {other}{beside}.")

    def _tell_changed(
        self,
        process: Process,
        other: str,
        told: list[_Difference],
        matter: list[_Difference],
        *,
        is_here: bool,
    ) -> Finding:
        name = f"{process.kind} {process.id}"
        purpose = process.find_value("purpose")
        meant = f" It was made for this: {purpose.value}." if purpose is not None else ""
        listed = ", ".join(each.describe() for each in matter[:_TOLD])
        more = f" and {len(matter) - _TOLD} more" if len(matter) > _TOLD else ""
        verb = "differs" if len(told) == 1 else "differ"
        can_move = "it can move" if len(matter) == 1 else f"{len(matter)} can move"
        if len(told) > 1 and len(matter) == 1:
            can_move = "1 can move"
        return self.nonconforming(
            Grade.MINOR if is_here and purpose is None else Grade.OBSERVATION,
            process.id,
            f"{count_things(len(told), 'setting')} of {name} {verb} from {other}, the last "
            f"accepted one; {can_move} the result: {listed}{more}.{meant}",
            observed="; ".join(f"{each.weight} {each.describe()}" for each in matter),
            required=f"the settings of {other}",
            criterion_source=_SOURCE,
            remedy=f"If the change was meant, say for what (swathbook amend {process.id} --set "
            'purpose="…" --reason "…"); if not, repeat the run with the settings of last time',
        )


def _list_shared(before: Process, after: Process) -> list[_Difference]:
    """Return the settings that both have on record, equal or not."""
    earlier = {key.partition(".")[2]: known for key, known in before.values.items()}
    later = {key.partition(".")[2]: known for key, known in after.values.items()}
    names: Iterable[str] = sorted((earlier.keys() & later.keys()) - _NOT_SETTINGS)
    return [
        _Difference(name, earlier[name], later[name])
        for name in names
        if name not in ("decision", "reason", "purpose")
    ]
