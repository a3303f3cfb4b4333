"""The list of checks: each with what supplies it, its criteria and their sources."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.checks import list_checks
from ledger.errors import SpecificationError
from ledger.model.audit import Source


def test_every_installed_check_is_listed_with_its_plugin() -> None:
    """Without a job the criteria are the defaults, each with its source, or blank."""
    result = list_checks()
    ids = [each.id for each in result.checks]
    assert ids == sorted(set(ids))
    assert ids
    for each in result.checks:
        assert each.title
        assert (each.plugin.name, bool(each.plugin.digest)) == ("swathbook", True)
        for criterion in each.criteria:
            assert criterion.source in (Source.DEFAULT, Source.BLANK)
            assert criterion.basis
            assert criterion.basis != "no source stated", f"{each.id}.{criterion.field}"
    assert result.faults == ()


def test_the_job_fills_the_criteria(tmp_path: Path) -> None:
    """Inside a job the values of its job.toml are shown as its own."""
    text = "[criteria.point-density]\nmin_pts_per_m2 = 6.25\n"
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    facts = next(each for each in list_checks(tmp_path).checks if each.id == "point-density")
    shown = {each.field: (each.value, each.source) for each in facts.criteria}
    assert shown["min_pts_per_m2"] == (6.25, Source.OWN)
    assert facts.required == "job.toml"


def test_no_file_that_the_job_names_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A geoid grid of gigabytes does not keep anybody waiting for a list of checks."""

    def refuse(path: Path) -> None:
        raise AssertionError(path)

    monkeypatch.setattr("ledger.audit.specified.read_fixity", refuse)
    text = "[coordinates]\ngeoid = { name = 'a', file = 'g.tif' }\n"
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    (tmp_path / "g.tif").write_bytes(b"grid")
    assert list_checks(tmp_path).checks


def test_a_wrong_specification_is_told(tmp_path: Path) -> None:
    """A fault in job.toml is told as everywhere, with its line."""
    (tmp_path / "job.toml").write_text("[criteria.none-such]\n", encoding="utf-8")
    with pytest.raises(SpecificationError, match=r"job\.toml line 1"):
        list_checks(tmp_path)


def test_a_job_without_specification_shows_the_defaults(tmp_path: Path) -> None:
    """A folder without job.toml is no obstacle."""
    assert list_checks(tmp_path) == list_checks()
