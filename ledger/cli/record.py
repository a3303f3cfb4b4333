"""`swathbook record`: a processing run, or another kind of record that its first word names."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import click

from ledger.cli.group import load_command
from ledger.cli.options import by_option, shared_options
from ledger.cli.recordhelp import RecordCommand, form_options, process_options
from ledger.cli.recordprocess import enter_process

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
def command(ctx: click.Context, /, **typed: Any) -> int:  # noqa: ANN401 - one for each option
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
    return enter_process(ctx, "run", **typed)
