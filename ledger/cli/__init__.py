"""The command line: arguments in, one call of the core, a view, an exit status.

Each command is one short module, imported when it is typed and not before.
"""

from __future__ import annotations

from ledger.cli.frame import main

__all__ = ["main"]
