"""What a module loads when nothing else has been imported."""

from __future__ import annotations

import subprocess
import sys


def list_imports(module: str) -> set[str]:
    """Return the first names of all modules that importing `module` in a fresh program loads."""
    script = f"import sys, {module}; print(*{{name.split('.')[0] for name in sys.modules}})"
    done = subprocess.run(
        [sys.executable, "-P", "-c", script], capture_output=True, text=True, check=True
    )
    return set(done.stdout.split())
