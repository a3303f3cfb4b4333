"""Which tables of control the runs behind a delivery were fitted to, as far as is on record."""

from __future__ import annotations

from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.model.artefact import Role
from ledger.model.process import Process

CONTROL_USED = "run.control_used"


@dataclass(frozen=True)
class ControlUse:
    """What is known of the control behind a delivery.

    Args:
        users: ids of the runs that used each table as control, by its digest.
        unnamed: ids of runs that used control and do not say which table.
        silent: ids of runs of which nobody said whether they used control.
        is_recorded: any run stands behind the delivery at all.
    """

    users: dict[str, tuple[str, ...]]
    unnamed: tuple[str, ...] = ()
    silent: tuple[str, ...] = ()
    is_recorded: bool = True

    def find_users(self, sha256: str) -> tuple[str, ...]:
        """Return the runs that used a table, or may have: they used control and name none."""
        return (*self.users.get(sha256, ()), *self.unnamed)

    @property
    def is_known(self) -> bool:
        """Say whether there are runs, and every one says whether it used control."""
        return self.is_recorded and not self.silent

    @property
    def question(self) -> str:
        """Return what nobody recorded, as a clause; asked where not all is known."""
        if not self.is_recorded:
            return "no run behind this delivery is on record"
        return f"nobody recorded whether {', '.join(self.silent)} used control"

    @property
    def remedy(self) -> str:
        """Return how to answer that."""
        if not self.is_recorded:
            return "Record how these files were made (swathbook record)"
        return f"Record it (swathbook amend {self.silent[0]} --set control_used=…)"


def find_control_use(evidence: Evidence) -> ControlUse:
    """Return which tables the runs behind a delivery were fitted to.

    A table that a run names as control counts as used unless the run says that it used none: a
    program may be given points and told to leave them out.
    """
    users: dict[str, list[str]] = {}
    unnamed, silent = [], []
    for process in evidence.processes:
        named = [used.sha256 for used in process.inputs if used.role == Role.CONTROL]
        said = _say_used(process)
        if said is False:
            continue
        for digest in named:
            users.setdefault(digest, []).append(process.id)
        if said and not named:
            unnamed.append(process.id)
        if said is None and not named and process.kind == "run":
            silent.append(process.id)
    return ControlUse(
        {digest: tuple(ids) for digest, ids in users.items()},
        tuple(unnamed),
        tuple(silent),
        is_recorded=bool(evidence.processes),
    )


def _say_used(process: Process) -> bool | None:
    known = process.values.get(CONTROL_USED)
    return known.value if known is not None and isinstance(known.value, bool) else None
