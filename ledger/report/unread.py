"""What a `job.toml` states and nothing looks at: said wherever its wishes are."""

from __future__ import annotations

from rich.console import RenderableType

from ledger.report.screen import DOUBT, say_lines, title


def list_unread(keys: tuple[str, ...]) -> list[RenderableType]:
    """Return what is stated and looked at by nothing, with whose work it is then."""
    if not keys:
        return []
    return [
        title("Stated in job.toml and read by no check: look at these yourself"),
        say_lines([", ".join(keys)], DOUBT, indent=2),
    ]
