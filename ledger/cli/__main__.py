"""Run the command line as `python -m ledger.cli`."""

from __future__ import annotations

import sys

from ledger.cli.frame import main

if __name__ == "__main__":
    sys.exit(main())
