"""Loading a part by its name."""

from __future__ import annotations

import gc
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from ledger.loading import load_part


@pytest.fixture
def module(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Return the name of a module that nothing has imported."""
    (tmp_path / "loaded_late.py").write_text(
        "import gc\ncollecting = gc.isenabled()\npart = object()\n", encoding="utf-8"
    )
    (tmp_path / "loaded_broken.py").write_text("raise ValueError('broken')\n", encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "loaded_late", raising=False)
    return "loaded_late"


def test_a_part_is_imported_once(module: str) -> None:
    """The same part comes back, from the module that was imported at the first call."""
    assert module not in sys.modules
    part = load_part(module, "part")
    assert load_part(module, "part") is part is sys.modules[module].part


def test_the_collector_rests_while_a_module_is_imported(module: str) -> None:
    """Collecting garbage is off inside, on again after, and passes over what was imported."""
    assert gc.isenabled()
    gc.unfreeze()
    assert load_part(module, "collecting") is False
    assert gc.isenabled()
    assert gc.get_freeze_count() > 0
    gc.unfreeze()


def test_a_collector_that_was_off_stays_off(module: str) -> None:
    """Who switched the collector off keeps it off."""
    gc.disable()
    try:
        load_part(module, "part")
        assert not gc.isenabled()
    finally:
        gc.enable()


def test_a_module_that_breaks_leaves_the_collector_on(module: str) -> None:
    """What a module raises comes through, and collecting goes on."""
    with pytest.raises(ValueError, match="broken"):
        load_part("loaded_broken", "part")
    assert gc.isenabled()


def test_a_module_that_another_thread_imports_is_waited_for(tmp_path: Path, module: str) -> None:
    """Nobody is handed a module that is half there."""
    (tmp_path / f"{module}.py").write_text(
        "import time\nbegun = True\ntime.sleep(0.3)\npart = object()\n", encoding="utf-8"
    )
    with ThreadPoolExecutor(2) as pool:
        first = pool.submit(load_part, module, "part")
        while not hasattr(sys.modules.get(module), "begun"):
            time.sleep(0.001)
        second = pool.submit(load_part, module, "part")
    assert first.result() is second.result()
