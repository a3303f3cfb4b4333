"""What `swathbook record` and `record step` do with what was typed."""

from __future__ import annotations

from typing import Any

import click

from ledger.cli.options import find_job, wants_json
from ledger.cli.recordhelp import read_answers, read_command
from ledger.cli.show import show
from ledger.loading import load_part
from ledger.record.result import RecordResult
from ledger.report.record import make_json, make_screen


def enter_process(
    ctx: click.Context,
    kind: str,
    *,
    form: str | None,
    settings: tuple[str, ...],
    reason: str,
    **typed: Any,  # noqa: ANN401 - the other options, by the names that `enter_run` takes
) -> int:
    """Record a run or a step with what was typed, show it, and return the exit status.

    Args:
        ctx: context of the command.
        kind: `run` or `step`.
        form: a filled-in form; None for none.
        settings: texts `key=value`.
        reason: reason of the decision; empty for none.
        typed: what the other options of `process_options` gave.
    """
    result: RecordResult = load_part("ledger.cli.recordrun", "enter_run")(
        find_job(ctx),
        answers=read_answers(form, settings, reason),
        command=read_command(ctx),
        quiet=wants_json(ctx),
        kind=kind,
        **typed,
    )
    show(ctx, result, make_json, make_screen)
    return 1 if result.exit_status or result.unread else 0
