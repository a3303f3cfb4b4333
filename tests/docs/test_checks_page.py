"""The page of checks says what the checks say."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="module")
def generate() -> ModuleType:
    """Return the module that writes the generated pages."""
    path = Path(__file__).with_name("generate.py")
    spec = importlib.util.spec_from_file_location("generate_pages", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_is_up_to_date(generate: ModuleType) -> None:
    """The page of checks is what the generator writes now: run it after changing a check."""
    page = (generate.REFERENCE / "checks.md").read_text(encoding="utf-8")
    assert page == generate.make_checks_page()


def test_every_check_and_criterion_is_on_the_page(generate: ModuleType) -> None:
    """Each id has a row and a section, each criterion a row."""
    page = generate.make_checks_page()
    for check in generate.list_checks().checks:
        assert f"| [`{check.id}`](#{check.id}) |" in page
        assert f"\n## {check.id}\n" in page
        for criterion in check.criteria:
            assert f"| `{criterion.field}` |" in page


def test_writing_makes_the_folder(generate: ModuleType, tmp_path: Path) -> None:
    """The page can be written anywhere, with plain line ends."""
    path = generate.write_checks_page(tmp_path / "new")
    assert path.read_bytes() == generate.make_checks_page().encode("utf-8")
