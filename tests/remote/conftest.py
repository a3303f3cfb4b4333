"""A store on loopback, and what opens it in the environment."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from made_store import Store, open_store, use_store


@pytest.fixture(scope="module")
def _server() -> Iterator[Store]:
    """Answer for all tests of a module: the library takes half a second to open a store."""
    with open_store() as opened, pytest.MonkeyPatch.context() as patch:
        use_store(patch, opened.address)
        yield opened


@pytest.fixture
def store(_server: Store) -> Store:
    """Return an empty store that this process reads from."""
    _server.clear()
    return _server
