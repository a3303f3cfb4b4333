"""What DEVELOPERS.md tells of the house is so."""

from __future__ import annotations

import re

import pytest
from generate import ROOT
from layers import LAYERS

from ledger.cli.table import COMMANDS

TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| L(\d) \| ([^|]+) \|", TEXT, re.MULTILINE)
# A path of the house in code: it has a folder before it, or ends like a file or a folder.
PATH = re.compile(r"`((?:ledger|plugins|tests|docs|\.ci)/[\w./-]*|[\w-]+\.(?:md|toml))`")


@pytest.mark.parametrize(("layer", "cell"), ROWS, ids=[f"L{layer} {cell}" for layer, cell in ROWS])
def test_each_part_stands_in_its_layer(layer: str, cell: str) -> None:
    """Each file and folder of the table is there, in the layer that the layer test holds it to."""
    parts = re.findall(r"`([^`]+)`", cell)
    assert parts
    for part in parts:
        name = part.removeprefix("ledger/")
        assert (ROOT / "ledger" / name).exists(), part
        assert LAYERS[name.removesuffix(".py").rstrip("/")] == int(layer), part


def test_the_table_has_every_layer() -> None:
    """No layer is left out, and a layer of one part names it."""
    assert {int(layer) for layer, _ in ROWS} == set(LAYERS.values())
    told = " ".join(cell for _, cell in ROWS)
    few = {layer for layer in LAYERS.values() if list(LAYERS.values()).count(layer) < 4}
    for part, layer in LAYERS.items():
        assert layer not in few or re.search(rf"\b{part}(\.py|/)`", told), part


def test_a_command_is_one_part_of_its_name() -> None:
    """Each command has a module or folder of its name, in L4 as the table says."""
    assert {name: LAYERS.get(name) for name in COMMANDS} == dict.fromkeys(COMMANDS, 4)


def test_every_path_is_there() -> None:
    """Every path that is named leads to a file or a folder."""
    paths = PATH.findall(TEXT)
    assert len(paths) > 15
    assert {path for path in paths if not (ROOT / path).exists()} <= {"job.toml"}


def test_every_topic_of_checks_is_told() -> None:
    """The folders in which a check can lie are those that are named."""
    folders = {
        path.name
        for path in (ROOT / "plugins" / "lidar_checks").iterdir()
        if path.is_dir() and path.name != "__pycache__"
    }
    (line,) = re.findall(r"^1\. Choose the topic folder .*$", TEXT, re.MULTILINE)
    assert folders == set(re.findall(r"`(\w+)`", line))
