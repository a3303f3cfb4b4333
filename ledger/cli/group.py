"""A command group that imports a command only when it is typed."""

from __future__ import annotations

import click

from ledger.cli.table import COMMANDS
from ledger.loading import load_part

STATUS_MODULE = "ledger.cli.status"


class LazyGroup(click.Group):
    """Finds commands by name in the table."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command, or return None for an unknown name."""
        if cmd_name not in COMMANDS:
            return None
        return load_command(COMMANDS[cmd_name][0])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Name the nearest command where there is none of that name."""
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            near = load_part("difflib", "get_close_matches")(name, COMMANDS, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise click.UsageError(f"there is no command {name!r}{hint}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the table without importing a single command."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, summary) for name, (_, summary) in COMMANDS.items()])


def load_command(module: str) -> click.Command:
    """Import the module of a command and return its `command`."""
    _silence_libraries()
    loaded: click.Command = load_part(module, "command")
    return loaded


def _silence_libraries() -> None:
    """Keep off the screen what libraries log: what a person has to know, we say ourselves."""
    root = load_part("logging", "getLogger")()
    if not root.handlers:
        root.addHandler(load_part("logging", "NullHandler")())
