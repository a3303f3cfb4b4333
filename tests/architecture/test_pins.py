"""What the tests are set up from: one version of each library, by its digest."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
PINS = ROOT / "tests" / "pins.txt"
REMEDY = "write the pins anew: .ci/run pins"


def read_pins() -> dict[str, str]:
    """Return the version of each pinned library by its canonical name."""
    found = re.findall(r"^([\w.-]+)==(\S+)", PINS.read_text(encoding="utf-8"), re.MULTILINE)
    return {canonicalize_name(name): version for name, version in found}


def read_requirements() -> list[Requirement]:
    """Return what the project and its tests ask for, without the project's own extras."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = [*project["dependencies"]]
    asked += [each for extra in ("test", "dev") for each in project["optional-dependencies"][extra]]
    return [each for each in map(Requirement, asked) if each.name != project["name"]]


def test_every_library_that_is_asked_for_is_pinned_within_its_bounds() -> None:
    """A bound that was raised without new pins would be tested on a version below it."""
    pins = read_pins()
    for each in read_requirements():
        version = pins.get(canonicalize_name(each.name))
        assert version is not None, f"{each.name} is not pinned; {REMEDY}"
        assert each.specifier.contains(version), f"{each} is pinned to {version}; {REMEDY}"


def test_every_pin_names_digests() -> None:
    """One pin without a digest, and pip takes whatever an index offers under the name."""
    text = PINS.read_text(encoding="utf-8")
    blocks = re.split(r"^(?=[\w.-]+==)", text, flags=re.MULTILINE)[1:]
    bare = [each.split()[0] for each in blocks if not re.search("--hash=sha256:[0-9a-f]{64}", each)]
    assert blocks
    assert not bare, bare
