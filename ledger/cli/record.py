"""`swathbook record`: a processing run, or another kind of record that its first word names."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import click

from ledger.cli.group import load_command
from ledger.cli.options import by_option, find_job, shared_options, wants_json
from ledger.cli.recordhelp import (
    RecordCommand,
    form_options,
    process_options,
    read_answers,
    read_command,
)
from ledger.cli.show import show
from ledger.loading import load_part
from ledger.record.result import RecordResult
from ledger.report.record import make_json, make_screen

# By the first word: the module of the command. Each has its own options and its own help.
KINDS: Mapping[str, str] = MappingProxyType(
    {
        "flight": "ledger.cli.recordflight",
        "rig": "ledger.cli.recordrig",
        "statement": "ledger.cli.recordstatement",
        "points": "ledger.cli.recordpoints",
        "step": "ledger.cli.recordstep",
        "decision": "ledger.cli.recorddecision",
        "deletion": "ledger.cli.recorddeletion",
    }
)


class _RunOrKind(RecordCommand):
    """Records a run, and gives way to another command where the first word names its kind."""

    def make_context(
        self,
        info_name: str | None,
        args: list[str],
        parent: click.Context | None = None,
        **extra: Any,  # noqa: ANN401 - click's own
    ) -> click.Context:
        """Return the context of the command that is meant."""
        place = self._find_first_word(args)
        if place is None or args[place] not in KINDS:
            return super().make_context(info_name, args, parent, **extra)
        kind, rest = args[place], [*args[:place], *args[place + 1 :]]
        return load_command(KINDS[kind]).make_context(f"{info_name} {kind}", rest, parent, **extra)

    def _find_first_word(self, args: list[str]) -> int | None:
        """Return the place of the first word that is neither an option nor the value of one."""
        valued = {
            name
            for option in self.params
            if isinstance(option, click.Option) and not option.is_flag
            for name in option.opts
        }
        place = 0
        while place < len(args) and args[place] != "--":
            if not args[place].startswith("-"):
                return place
            place += 2 if args[place] in valued else 1
        return None


@click.command("record", cls=_RunOrKind, kind="run")
@process_options
@form_options
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context,
    *,
    words: tuple[str, ...],
    inputs: tuple[str, ...],
    form: str | None,
    settings: tuple[str, ...],
    name: str,
    reason: str,
    together: bool,
    settings_files: tuple[str, ...],
    map_rows: tuple[str, ...],
    evidence: tuple[str, ...],
    yes: bool,
    by: str,
) -> int:
    """Record a processing run: what it made, from what, with which settings.

    \b
    swathbook record                 finds outputs that no run explains, and asks
    swathbook record out/R1 --input F1     these outputs, made from this flight
    swathbook record out/R1 --set decision=rejected --reason "wrong heights"
    swathbook record --blank > run.toml    an empty form to fill in
    swathbook record out/R1 --from run.toml
    swathbook record --command -- CMD …    runs a command, and records it

    \b
    Other records, each with its own --help:
    swathbook record flight F1             the field card
    swathbook record rig                   scanner, bracket and aircraft as one unit
    swathbook record step out/S1           cleaning, classifying, tiling after a run
    swathbook record decision R1 rejected  what became of a run
    swathbook record deletion raw/old      what was deleted on purpose
    swathbook record points FILE           what a table of surveyed points holds
    swathbook record statement             a number that the report states

    Files are read first, only the rest is asked. A blank is allowed and its cost is said.
    """  # noqa: D301 - \b keeps the lines apart in the help
    result: RecordResult = load_part("ledger.cli.recordrun", "enter_run")(
        find_job(ctx),
        words,
        read_answers(form, settings, reason),
        inputs=inputs,
        name=name,
        together=together,
        settings_files=settings_files,
        map_rows=map_rows,
        evidence=evidence,
        command=read_command(ctx),
        yes=yes,
        quiet=wants_json(ctx),
        by=by,
    )
    show(ctx, result, make_json, make_screen)
    return 1 if result.exit_status or result.unread else 0
