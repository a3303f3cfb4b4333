"""Loading a part of the program when it is first needed, by its name.

A person waits for everything that a command imports. What few calls need, and what stands on a
heavy library, is therefore named here and imported at its first use; everything else is imported at
the top of a module, where a reader looks for it. Names are written out in the call, so that the
test of layers sees these edges as it sees imports.
"""

from __future__ import annotations

import gc
import importlib
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any


def load_part(module: str, name: str) -> Any:  # noqa: ANN401 - the caller knows what it asked for
    """Import a module when it is needed and return one thing of it.

    The one place that imports late. Loading again costs a look into a table; a module that another
    thread is importing at this moment is waited for.

    Args:
        module: dotted name of the module.
        name: what is wanted of it.
    """
    if module in sys.modules:  # perhaps half imported; the import system knows and waits
        return getattr(importlib.import_module(module), name)
    with _keeping_all():
        return getattr(importlib.import_module(module), name)


@contextmanager
def _keeping_all() -> Iterator[None]:
    """Keep the collector of garbage away from what is imported, now and later.

    Modules stay to the end, and the collector would look through them again and again, and once
    more when the process ends: an eighth of the time of a small command, measured.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        if was_on:
            gc.enable()
