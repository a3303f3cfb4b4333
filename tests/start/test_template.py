"""The template of `job.toml`: valid whatever is typed, with every key that there is."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from pathlib import Path

from hypothesis import example, given
from hypothesis import strategies as st
from pydantic import BaseModel

from ledger.checks import list_checks
from ledger.model.specification import Specification
from ledger.specfile.reading import parse_specification
from ledger.specfile.uses import READ_BY_COMMANDS
from ledger.start.template import write_template

# What can be typed and is text: a reference or a title arrives stripped.
TEXTS = st.text(st.characters(exclude_categories=["Cs"])).map(str.strip)


def iterate_keys(model: type[BaseModel], table: str = "") -> Iterator[tuple[str, str]]:
    """Yield section and name of every key of the model that is no section itself."""
    for name, field in model.model_fields.items():
        inner = field.annotation
        if table == "" and isinstance(inner, type) and issubclass(inner, BaseModel):
            yield from iterate_keys(inner, name)
        else:
            yield table, name


@given(reference=TEXTS, title=TEXTS)
@example(reference='"""', title="\\")
@example(reference="\x00\x1f\x7f\x85\u2028\ufeff", title="'''\r\n# [job]")
def test_template_is_valid_whatever_was_typed(reference: str, title: str) -> None:
    """Any text is written so that the strict reader gives it back: a new job needs no proof."""
    job = parse_specification(write_template(reference, title).encode()).job
    assert (job.reference or "", job.title or "") == (reference, title)


def test_every_key_stands_in_the_template() -> None:
    """Every key of the specification is there, as a value or as a blank, below its section."""
    sections = {"": ""}
    current = ""
    for line in write_template().splitlines():
        if line.startswith("["):
            current = line.strip("[]")
        sections[current] = sections.get(current, "") + line + "\n"
    for section, name in iterate_keys(Specification):
        if name == "criteria":
            name, section = "profile", "criteria"  # noqa: PLW2901
        assert re.search(rf"(?m)^(# )?{name} = ", sections[section]), (section, name)


def test_every_line_of_the_template_has_a_remark() -> None:
    """No key stands without plain words behind it or below it."""
    lines = write_template("QM-1", "Pit").splitlines()
    for line, following in itertools.pairwise(lines):
        if re.match(r"(# )?\w+ = ", line):
            assert re.search(r"[^#] +# \w", line) or re.match(r"#  +# \w", following), line


def test_the_template_says_which_keys_nothing_reads() -> None:
    """A key that neither a check of ours nor a command reads says so beside it, and no other."""
    read = {key for each in list_checks().checks for key in each.specification_keys}
    sections: dict[str, str] = {"": ""}
    current = ""
    for line in write_template().splitlines():
        current = line.strip("[]") if line.startswith("[") else current
        match = re.match(r"(?:# )?(\w+) = ", line)
        if match is None or current in ("criteria", "checks"):
            continue
        key = f"{current}.{match[1]}".lstrip(".")
        is_read = any(each == key or each.startswith(f"{key}.") for each in read)
        assert ("(not read yet)" in line) is not (is_read or key in READ_BY_COMMANDS), key
        sections[key] = line
    assert len(sections) > 15


def test_template_is_valid_with_every_blank_filled_in() -> None:
    """Taking away the mark before any key, or before all, leaves a valid file."""
    text = write_template()
    assert parse_specification(text.encode()) == Specification()
    blanks = re.findall(r"(?m)^# (\w+ = .*)$", text)
    assert len(blanks) > 15
    for blank in blanks:
        parse_specification(text.replace(f"# {blank}", blank).encode())
    everything = parse_specification(re.sub(r"(?m)^# (\w+ = )", r"\1", text).encode())
    assert everything.coordinates.geoid is not None


def test_the_template_filled_in_is_one_that_an_audit_takes(tmp_path: Path) -> None:
    """With every example taken as it stands, names of checks put in, there is no fault of any kind.

    Each of `# key = value` counts as an answer; a profile is left out, since none is installed.
    """
    text = re.sub(r"(?m)^# (\w+ = )", r"\1", write_template("QM-1", "Pit"))
    text = re.sub(r"(?m)^profile = .*\n", "", text)
    text = text.replace("name-of-a-check", "seams")
    text += "\n[criteria.point-density]\nmin_pts_per_m2 = 4.0\n"
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    result = list_checks(tmp_path)
    assert next(each for each in result.checks if each.id == "seams").switched_off == "why"
    assert {key.rpartition(".")[2] for key in result.unread} == {
        line.partition(" =")[0] for line in text.splitlines() if "(not read yet)" in line
    }
