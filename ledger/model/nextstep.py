"""What a person should type next."""

from __future__ import annotations

from ledger.dataclass import dataclass
from ledger.model.address import is_address
from ledger.model.typed import quote_path
from ledger.model.verdict import Verdict


@dataclass(frozen=True)
class NextStep:
    """One command, as it is typed in the job folder.

    Args:
        command: the command; empty when nothing waits.
        when: what has to happen before, or what to know about it; empty for nothing.
    """

    command: str = ""
    when: str = ""


NOTHING = NextStep()


def make_accept_step(finding: str) -> NextStep:
    """Return how a minor finding is taken; the person fills in who takes it and why."""
    command = f'swathbook accept {finding} --by "site engineer" --reason "…"'
    return NextStep(command, "or put it right")


def make_handover_step(folder: str) -> NextStep:
    """Return how a folder is handed over; the person fills in to whom and for what."""
    if is_address(folder):
        return NextStep("swathbook audit FOLDER", "a copy of it on a drive, to hand that over")
    command = f'swathbook handover {quote_path(folder)} --to "client engineer" --use "…"'
    return NextStep(command, "when it goes out")


def find_audit_step(verdict: Verdict, folder: str, open_minor: str, *, quick: bool) -> NextStep:
    """Return what an audit leaves to do.

    Args:
        verdict: its verdict, with every acceptance so far.
        folder: the folder, as the book writes it.
        open_minor: id of a minor finding that nobody has accepted; empty for none.
        quick: points were left unread.
    """
    again = f"swathbook audit {quote_path(folder)}"
    if verdict is Verdict.DO_NOT_SEND:
        return NextStep(again, "once what it found is put right")
    if verdict is Verdict.INCOMPLETE:
        return NextStep(again, "reads the points" if quick else "once what is missing is there")
    if verdict is Verdict.ACCEPTANCE_NEEDED and open_minor:
        return make_accept_step(open_minor)
    if verdict is Verdict.FIT_TO_SEND:
        return make_handover_step(folder)
    return NOTHING
