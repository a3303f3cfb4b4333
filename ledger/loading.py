"""Loading a part of the program when it is first needed, by its name.

A person waits for everything that a command imports. What few calls need, and what stands on a
heavy library, is therefore named here and imported at its first use; everything else is imported at
the top of a module, where a reader looks for it. Names are written out in the call, so that the
test of layers sees these edges as it sees imports.
"""

from __future__ import annotations

import importlib
from typing import Any


def load_part(module: str, name: str) -> Any:  # noqa: ANN401 - the caller knows what it asked for
    """Import a module when it is needed and return one thing of it.

    The one place that imports late. Loading again costs a look into a table.

    Args:
        module: dotted name of the module.
        name: what is wanted of it.
    """
    return getattr(importlib.import_module(module), name)
