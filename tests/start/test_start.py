"""A job is begun whole or not at all, and what it takes over proves nothing until confirmed."""

from __future__ import annotations

import itertools
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pydantic import BaseModel

from ledger.checks import list_checks
from ledger.errors import BookError, SpecificationError, UsageError
from ledger.model.ask import NoProgress
from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.model.specification import Specification
from ledger.specfile.reading import parse_specification, read_specification
from ledger.specfile.uses import READ_BY_COMMANDS
from ledger.start import start_job
from ledger.start.template import write_template
from ledger.store.reading import Book
from ledger.store.writing import BookWriter

# What can be typed and is text: a reference or a title arrives stripped.
TEXTS = st.text(st.characters(exclude_categories=["Cs"])).map(str.strip)

PRECEDENT = """\
# remarks stay
[job]
reference = "OLD-1"   # the client's number
title = "Old"
client = "A client"

[folders]
raw = "raw"
out = "/elsewhere/out"

[coordinates]
horizontal = "EPSG:6346"   # from the contract
geoid = { name = "made-up", file = "geoid/g.tif" }

[delivery]
boundary = "site.geojson"

[criteria]
profile = "p"

[criteria.some-check]
limit_m = 0.05
"""


def list_everything(folder: Path) -> dict[str, bytes | None]:
    """Return every path below a folder with its content, None for folders."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
    }


@pytest.fixture
def precedent(tmp_path: Path) -> Path:
    """Return a job that a new one can be like: specification, geoid grid, two rigs."""
    folder = tmp_path / "old"
    start_job(folder)
    (folder / "job.toml").write_text(PRECEDENT, encoding="utf-8")
    (folder / "geoid").mkdir()
    (folder / "geoid" / "g.tif").write_bytes(b"grid")
    arm = KnownValue(["0.1", "0", "0.2"], "m", KnownBy.MEASURED)
    serial = KnownValue("AC-03", known_by=KnownBy.ASSUMED)
    with BookWriter.open(folder) as writer:
        for name, values in (
            ("drone", {"rig.lever_arm_aircraft": arm, "rig.aircraft_serial": serial}),
            ("pole", {}),
        ):
            stored = {key: known.to_values() for key, known in values.items()}
            writer.append(Draft(Kind.RIG, {"name": name, "values": stored}), id_prefix="G")
    return folder


def test_new_job_has_folders_specification_and_book(tmp_path: Path) -> None:
    """The folder holds raw/, out/, a valid job.toml and an unbroken book that names both."""
    result = start_job(tmp_path / "a" / "job", "QM-1", 'Pit "one"', by="surveyor")
    folder = tmp_path / "a" / "job"
    assert (result.folder, result.specification) == (folder, folder / "job.toml")
    assert (folder / "raw").is_dir()
    assert (folder / "out").is_dir()
    read = read_specification(result.specification)
    assert (read.job.reference, read.job.title) == ("QM-1", 'Pit "one"')
    with Book.open(folder) as book:
        job, specification = book.entries()
        assert (job.kind, job.by) == (Kind.JOB, "surveyor")
        assert job.values == {"reference": "QM-1", "title": 'Pit "one"', "like": ""}
        assert specification.kind == Kind.SPECIFICATION
        assert book.blob(specification.values["sha256"]) == result.specification.read_bytes()
        assert book.check(NoProgress()).unbroken


def test_nothing_given_is_all_blanks(tmp_path: Path) -> None:
    """A job without reference and title has them as blanks, not as empty texts."""
    result = start_job(tmp_path / "job", " ", "")
    read = read_specification(result.specification)
    assert (read.job.reference, read.job.title) == (None, None)


def test_folder_with_other_files_becomes_a_job(tmp_path: Path) -> None:
    """Files that lie there already stay as they are."""
    (tmp_path / "raw").mkdir()
    (tmp_path / "raw" / "cap.bin").write_bytes(b"raw")
    start_job(tmp_path)
    assert (tmp_path / "raw" / "cap.bin").read_bytes() == b"raw"


@pytest.mark.parametrize("name", ["swathbook.sqlite", "job.toml"])
def test_folder_that_is_a_job_is_refused(tmp_path: Path, name: str) -> None:
    """One line, and not a byte of the folder is touched."""
    (tmp_path / name).write_bytes(b"mine")
    before = list_everything(tmp_path)
    with pytest.raises(UsageError, match=f"{name} in this folder already") as caught:
        start_job(tmp_path, "QM-1")
    assert len(str(caught.value).splitlines()) == 1
    assert list_everything(tmp_path) == before


@pytest.mark.parametrize("inner", ["pit-2", "raw/pit-2", "new/deep/pit-2", "../pit/pit-2"])
def test_job_inside_a_job_is_refused(tmp_path: Path, inner: str) -> None:
    """Standing in a job when the next one is started is a slip: one line, and where it belongs."""
    job = tmp_path / "pit"
    start_job(job)
    before = list_everything(tmp_path)
    with pytest.raises(UsageError, match="a job inside another job is a slip") as caught:
        start_job(job / inner)
    assert str(caught.value).endswith(f"swathbook start {tmp_path / 'pit-2'}")
    assert len(str(caught.value).splitlines()) == 1
    assert list_everything(tmp_path) == before


def test_folder_of_jobs_is_no_job(tmp_path: Path) -> None:
    """The folder in which the jobs lie does not become one by mistake."""
    start_job(tmp_path / "pit")
    before = list_everything(tmp_path)
    with pytest.raises(UsageError, match="holds a job already"):
        start_job(tmp_path)
    assert list_everything(tmp_path) == before


def test_job_beside_a_job_is_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From inside a job, a path that leads out of it is no slip."""
    start_job(tmp_path / "pit")
    monkeypatch.chdir(tmp_path / "pit")
    assert start_job(Path("../pit-2")).folder == tmp_path / "pit-2"


def test_file_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    """A file of that name is an error of ours."""
    (tmp_path / "job").write_bytes(b"x")
    with pytest.raises(UsageError, match="this is a file"):
        start_job(tmp_path / "job")


def test_file_on_the_way_is_refused(tmp_path: Path) -> None:
    """A file where a folder above should be is an error of ours, and leaves nothing."""
    (tmp_path / "a").write_bytes(b"x")
    with pytest.raises(UsageError, match="cannot be made"):
        start_job(tmp_path / "a" / "job")
    assert list_everything(tmp_path) == {"a": b"x"}


@pytest.mark.parametrize("failure", [OSError(28, "No space left"), KeyboardInterrupt()])
def test_failure_leaves_nothing_half_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failure: BaseException
) -> None:
    """Whatever stops the command while the book is written, nothing of the job is left."""
    (tmp_path / "job").mkdir()
    (tmp_path / "job" / "note.txt").write_bytes(b"mine")

    def fail(*_: object) -> None:
        raise failure

    monkeypatch.setattr(BookWriter, "append_all", fail)
    with pytest.raises((UsageError, KeyboardInterrupt)):
        start_job(tmp_path / "job" / "deeper" / "still")
    assert list_everything(tmp_path) == {"job": None, "job/note.txt": b"mine"}


def test_failure_inside_the_book_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the book's writer leaves beside it goes too, when the book cannot be written."""

    def fail(*_: object) -> None:
        raise OSError(28, "No space left")

    monkeypatch.setattr("ledger.store.writing.make_body", fail)
    (tmp_path / "raw").mkdir()
    with pytest.raises(UsageError, match="No space left"):
        start_job(tmp_path)
    assert list_everything(tmp_path) == {"raw": None}


def test_title_with_a_line_break_is_quoted(tmp_path: Path) -> None:
    """No text that is given can break the file."""
    title = 'a\nb = "c" \\ # [x] \u202e \x7f'
    result = start_job(tmp_path / "job", title=title)
    assert read_specification(result.specification).job.title == title


# The template.


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


# Taking over from another job.


def test_specification_is_taken_over_as_carried(tmp_path: Path, precedent: Path) -> None:
    """Values and remarks come over; every key that needs confirming is named."""
    result = start_job(tmp_path / "new", "NEW-2", "New", like=precedent)
    text = result.specification.read_text(encoding="utf-8")
    read = read_specification(result.specification)
    assert result.carried == read.carried == (
        "job.client",
        "coordinates.horizontal",
        "coordinates.geoid",
        "delivery.boundary",
        "criteria.profile",
        "criteria.some-check",
    )  # fmt: skip
    assert (read.job.reference, read.job.title) == ("NEW-2", "New")
    assert read.coordinates.horizontal == "EPSG:6346"
    assert read.criteria["some-check"] == {"limit_m": 0.05}
    for remark in ("# remarks stay", "# the client's number", "# from the contract"):
        assert remark in text
    with Book.open(result.folder) as book:
        job = book.last(Kind.JOB)
        assert job is not None
        assert job.values["like"] == "OLD-1"


def test_files_of_the_other_job_are_still_found(tmp_path: Path, precedent: Path) -> None:
    """A file named relative to the other job is named from the new one; an absent one stays."""
    result = start_job(tmp_path / "deep" / "new", like=precedent)
    read = read_specification(result.specification)
    assert read.coordinates.geoid is not None
    assert read.coordinates.geoid.file == "../../old/geoid/g.tif"
    assert (result.folder / read.coordinates.geoid.file).read_bytes() == b"grid"
    assert read.delivery.boundary == "site.geojson"


def test_output_folder_of_the_other_job_is_not_taken_over(tmp_path: Path, precedent: Path) -> None:
    """Folders outside of the job would hold the other job's outputs."""
    result = start_job(tmp_path / "new", like=precedent)
    assert read_specification(result.specification).folders.out == "out"
    assert (result.folder / "out").is_dir()


def test_reference_of_the_other_job_is_not_taken_over(tmp_path: Path, precedent: Path) -> None:
    """Without a new reference there is none."""
    result = start_job(tmp_path / "new", like=precedent)
    job = read_specification(result.specification).job
    assert (job.reference, job.title, job.client) == (None, None, "A client")


def test_rigs_are_carried_and_not_confirmed(tmp_path: Path, precedent: Path) -> None:
    """Every rig comes over, carried and unconfirmed; what was assumed stays assumed."""
    result = start_job(tmp_path / "new", like=precedent / "swathbook.sqlite")
    assert result.rigs == ("G1", "G2")
    with Book.open(result.folder) as book:
        drone, pole = book.cards("rig")
    assert (drone.name, pole.name) == ("drone", "pole")
    arm = drone.values["rig.lever_arm_aircraft"]
    assert (arm.value, arm.unit) == (["0.1", "0", "0.2"], "m")
    assert (arm.known_by, arm.confirmed) == (KnownBy.CARRIED, False)
    assert drone.values["rig.aircraft_serial"].known_by is KnownBy.ASSUMED
    assert not any(known.can_prove for known in drone.values.values())


def test_third_job_carries_from_the_second(tmp_path: Path, precedent: Path) -> None:
    """Taking over again and again neither repeats remarks nor loses the list."""
    second = start_job(tmp_path / "2", like=precedent)
    third = start_job(tmp_path / "3", like=second.folder)
    assert third.carried == second.carried
    assert third.specification.read_bytes() == second.specification.read_bytes()


def test_template_of_a_new_job_can_be_taken_over(tmp_path: Path) -> None:
    """A job that was only begun can be the precedent of another, line endings kept."""
    first = start_job(tmp_path / "1", "A", "B")
    text = first.specification.read_text(encoding="utf-8")
    text = text.replace('# horizontal = "EPSG:6346"', 'horizontal = "EPSG:6346"')
    first.specification.write_bytes(text.replace("\n", "\r\n").encode())
    second = start_job(tmp_path / "2", like=first.folder)
    written = second.specification.read_bytes()
    assert read_specification(second.specification).carried == ("coordinates.horizontal",)
    assert written.count(b"\n") == written.count(b"\r\n")
    assert b"# carried = []" not in written


def test_job_without_a_book_can_be_taken_over(tmp_path: Path) -> None:
    """A job.toml alone is enough."""
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "job.toml").write_text(PRECEDENT, encoding="utf-8")
    result = start_job(tmp_path / "new", like=tmp_path / "old" / "job.toml")
    assert "coordinates.horizontal" in result.carried
    assert result.rigs == ()


def test_bad_precedent_leaves_nothing(tmp_path: Path, precedent: Path) -> None:
    """No job, a wrong job.toml or a broken book of the other job: one error, nothing made."""
    new = tmp_path / "new"
    with pytest.raises(UsageError, match="no job to take over from"):
        start_job(new, like=tmp_path / "nowhere")
    (precedent / "swathbook.sqlite").write_bytes(b"no book")
    with pytest.raises(BookError):
        start_job(new, like=precedent)
    (precedent / "job.toml").write_text("[job]\nrefrence = 'a'\n", encoding="utf-8")
    with pytest.raises(SpecificationError, match=r"job\.toml line 2"):
        start_job(new, like=precedent)
    assert not new.exists()


def test_carried_mark_is_plain_toml(tmp_path: Path, precedent: Path) -> None:
    """A person confirms by deleting a name from a list at the top of the file."""
    result = start_job(tmp_path / "new", like=precedent)
    values = tomllib.loads(result.specification.read_text(encoding="utf-8"))
    assert next(iter(values)) == "carried"


def test_the_settings_map_is_taken_over(tmp_path: Path, precedent: Path) -> None:
    """Which key means what was said once for a program, and need not be said again."""
    rows = [{"field": "run.mount_mode", "keys": ["device.mountType"], "unit": "", "words": {}}]
    with BookWriter.open(precedent) as writer:
        writer.append(Draft(Kind.SETTINGS_MAP, {"rows": rows}))
    result = start_job(tmp_path / "new", like=precedent)
    assert result.mapped == ("run.mount_mode",)
    with Book.open(result.folder) as book:
        entry = book.last(Kind.SETTINGS_MAP)
    assert entry is not None
    assert entry.values == {"rows": rows}
