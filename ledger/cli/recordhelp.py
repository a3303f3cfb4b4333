"""What the commands of `swathbook record` share: options, and a help that lists the fields."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from ledger.cli.jsontext import print_json
from ledger.cli.options import wants_json
from ledger.forms import print_blank
from ledger.forms.wording import describe_format
from ledger.model.fields import list_fields
from ledger.model.phrases import list_choices
from ledger.record.answers import Answers
from ledger.report.blankform import make_json as make_form_json
from ledger.walk import read_dropped_path

_WANTS_FORM = f"{__name__}.wants_form"
_COMMAND = f"{__name__}.command"
_FLAG = "--command"


class RecordCommand(click.Command):
    """A command that records fields; its help lists those that it asks for."""

    def __init__(self, *args: Any, kind: str, **attributes: Any) -> None:  # noqa: ANN401 - click's own
        """Make a command for one kind of record (`rig`, `flight`, `run`)."""
        super().__init__(*args, **attributes)
        self.kind = kind

    def make_context(
        self,
        info_name: str | None,
        args: list[str],
        parent: click.Context | None = None,
        **extra: Any,  # noqa: ANN401 - click's own
    ) -> click.Context:
        """Return the context, with the words behind `--` apart where they are a command."""
        end = args.index("--") if "--" in args else len(args)
        if _FLAG not in args[:end]:
            return super().make_context(info_name, args, parent, **extra)
        ctx = super().make_context(info_name, args[:end], parent, **extra)
        ctx.meta[_COMMAND] = tuple(args[end + 1 :])
        return ctx

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's own
        """Print the empty form where that was asked for, else carry the command out."""
        if not ctx.meta.get(_WANTS_FORM):
            return super().invoke(ctx)
        text = print_blank(self.kind)
        if wants_json(ctx):
            print_json(make_form_json(self.kind, text, list_fields(self.kind)))
        else:
            click.echo(text, nl=False)
        return None

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the fields: those asked for with their format, the others by name."""
        super().format_epilog(ctx, formatter)
        fields = list_fields(self.kind)
        rows = []
        for field in fields:
            if field.core:
                answer = list_choices(field.choices) or describe_format(field)
                rows.append((field.name, f"{field.question}{f' ({answer})' if answer else ''}"))
        with formatter.section("Fields, as asked and as KEY of --set"):
            formatter.write_dl(rows, col_max=24)
        with formatter.section("Not asked, only by --set or --from (--blank explains them)"):
            formatter.write_text(", ".join(field.name for field in fields if not field.core))


def _note_blank(ctx: click.Context, _parameter: click.Parameter, value: bool) -> None:  # noqa: FBT001 - click's own
    # Printed once all options are read: whether JSON is wanted may stand behind.
    ctx.meta[_WANTS_FORM] = value


def form_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add `--from`, `--set`, `--name` and `--blank`."""
    options = (
        click.option("--from", "form", metavar="FORM.toml", help="A filled-in form."),
        click.option(
            "--set",
            "settings",
            multiple=True,
            metavar="KEY=VALUE",
            help="One answer; it counts over the form.",
        ),
        click.option("--name", default="", metavar="TEXT", help="A name for the record."),
        click.option(
            "--blank",
            is_flag=True,
            expose_value=False,
            callback=_note_blank,
            help="Print the empty form and enter nothing.",
        ),
    )

    for option in reversed(options):
        function = option(function)
    return function


def process_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add what the commands for runs and steps share: outputs, inputs, reason, `--together`."""
    options = (
        click.argument("words", nargs=-1, metavar="[PATH…]"),
        click.option(
            "--input",
            "inputs",
            multiple=True,
            metavar="ID|PATH",
            help="What went in: F1, R1, files.",
        ),
        click.option(
            "--reason", default="", metavar="TEXT", help="Reason of the decision, in one line."
        ),
        click.option("--together", is_flag=True, help="All named outputs belong together."),
        click.option(
            "--settings",
            "settings_files",
            multiple=True,
            metavar="FILE",
            help="Settings or log that the program left: JSON, XML, INI, TOML, YAML, key = value.",
        ),
        click.option(
            "--map",
            "map_rows",
            multiple=True,
            metavar="FIELD=KEY",
            help="Which key of it a field is; kept for the next time.",
        ),
        click.option(
            "--evidence",
            multiple=True,
            metavar="FILE",
            help="Photo or screenshot of the settings; its digest is kept, it is never read.",
        ),
        click.option(
            _FLAG,
            is_flag=True,
            expose_value=False,
            help="Run what stands behind -- and record it: --command -- CMD …",
        ),
        click.option("--yes", is_flag=True, help="Run the command without asking."),
    )
    for option in reversed(options):
        function = option(function)
    return function


def read_answers(form: str | None, settings: tuple[str, ...], reason: str = "") -> Answers:
    """Return what was answered on the command line.

    Args:
        form: a filled-in form; None for none.
        settings: texts `key=value`.
        reason: the reason of a decision, as if it had been set; empty for none.
    """
    said = (*settings, f"reason={reason}") if reason else settings
    return Answers(form=read_dropped_path(form) if form is not None else None, settings=said)


def read_command(ctx: click.Context) -> tuple[str, ...] | None:
    """Return the words behind `--command --`; None where no command is to be run."""
    words: tuple[str, ...] | None = ctx.meta.get(_COMMAND)
    return words
