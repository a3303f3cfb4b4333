"""Forms as files and settings of the command line give the same values as typing."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from ledger.errors import UnreadableFileError, UsageError
from ledger.forms import (
    FileFinder,
    find_field,
    parse_settings,
    parse_values,
    print_blank,
    read_form,
)
from ledger.model.fields import FIELDS, list_fields
from ledger.model.known import KnownBy, KnownValue

KINDS = ("rig", "flight", "run")


def read(tmp_path: Path, text: str, kind: str = "run") -> dict[str, KnownValue]:
    """Return the values of a form."""
    path = tmp_path / "form.toml"
    path.write_text(text, encoding="utf-8")
    return read_form(path, kind, FileFinder(job=tmp_path, folders=(tmp_path,)))


def test_flat_and_table_forms_are_alike(tmp_path: Path) -> None:
    """Keys may stand alone or in a table named after the kind of record."""
    keys = 'mount_mode = "drone"\nlever_arm = [0.120, -0.03, 1]\ncontrol_used = false\n'
    flat = read(tmp_path, keys)
    assert read(tmp_path, f"[run]\n{keys}") == flat
    assert flat == {
        "run.mount_mode": KnownValue("drone"),
        "run.lever_arm": KnownValue(["0.120", "-0.03", "1"], "m"),
        "run.control_used": KnownValue(value=False),
    }


def test_form_says_how_values_are_known(tmp_path: Path) -> None:
    """A value may be a table, or tables beside the keys may say it for several."""
    values = read(
        tmp_path,
        """
        [run]
        mount_mode = { value = "drone", known_by = "assumed" }
        range_max = { value = "300", unit = "ft", known_by = "measured", where = "plan" }
        frame = { value = "NAD83(2011)", known_by = "carried" }
        orientation = "upright"
        zone = "17N"
        epoch = 2010.00
        [run.known_by]
        orientation = "read"
        [run.confirmed]
        zone = false
        """,
    )
    assert values["run.mount_mode"] == KnownValue(
        "drone", known_by=KnownBy.ASSUMED, confirmed=False
    )
    assert values["run.frame"].known_by is KnownBy.CARRIED
    assert not values["run.frame"].can_prove  # nobody says that he looked
    assert not values["run.mount_mode"].can_prove
    assert values["run.range_max"] == KnownValue(
        "91.44", "m", KnownBy.MEASURED, confirmed=True, where="plan"
    )
    assert values["run.orientation"].known_by is KnownBy.READ
    assert not values["run.zone"].confirmed
    assert values["run.epoch"].value == "2010.00"


def test_dates_and_times_may_be_toml(tmp_path: Path) -> None:
    """Dates and times need no quotes."""
    values = read(
        tmp_path,
        "takeoff = 2026-05-14T11:00:00+02:00\nlanding = '2026-05-14T09:30Z'\n",
        "flight",
    )
    assert values["flight.takeoff"].value == "2026-05-14T09:00:00Z"
    assert values["flight.landing"].value == "2026-05-14T09:30:00Z"


@pytest.mark.parametrize("typed", ["14:18Z", "16:18+02:00", "9:18-05:00"])
def test_a_landing_needs_no_day_here_either(tmp_path: Path, typed: str) -> None:
    """What may be typed at the question may be typed behind `--set`, and in a form."""
    told = "2026-05-12T14:18:00Z"
    settings = ["takeoff=2026-05-12 14:00Z", f"landing={typed}"]
    values = parse_settings("flight", settings, FileFinder(job=tmp_path, folders=(tmp_path,)))
    assert values["flight.landing"].value == told
    form = f'[flight]\ntakeoff = "2026-05-12 14:00Z"\nlanding = "{typed}"\n'
    assert read(tmp_path, form, "flight")["flight.landing"].value == told


def test_empty_texts_of_a_form_are_blanks(tmp_path: Path) -> None:
    """A line that was left as "" answers nothing."""
    assert read(tmp_path, 'software = ""\nversion = "2"\n').keys() == {"run.version"}


def test_all_faults_of_a_form_are_told_with_their_lines(tmp_path: Path) -> None:
    """Every fault is one line that names the form, the line and what is wrong."""
    text = """\
stray = 1
[run]
mount_mode = "dorne"
mountmode = "drone"
lever_arm = [1, 2]
base_height = 1.5
geoid_file = "none.tif"
crs = { val = "EPSG:6346" }
zone = { value = "17N", known_by = "guessed" }
frame = { value = "NAD83", confirmed = "yes" }
reason = [[1]]
[run.known_by]
epoch = "read"
"""
    with pytest.raises(UsageError) as caught:
        read(tmp_path, text)
    lines = str(caught.value).splitlines()
    numbers = [int(re.search(r"line (\d+)", line)[1]) for line in lines]  # type: ignore[index]
    assert numbers == [1, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13]
    assert "did you mean mount_mode?" in lines[2]


def test_field_of_another_kind_is_named(tmp_path: Path) -> None:
    """A key of a flight in the form of a run is told as such."""
    with pytest.raises(UsageError, match="belongs to a flight, and this is a run"):
        read(tmp_path, '"flight.base_height" = 1.5\n')


def test_broken_form_names_its_line(tmp_path: Path) -> None:
    """A form that is no TOML is one fault with its line."""
    with pytest.raises(UsageError, match=r"form\.toml line 2"):
        read(tmp_path, "a = 1\nb = \n")


def test_absent_form_is_one_error(tmp_path: Path) -> None:
    """A form that is not there is an error of ours."""
    with pytest.raises(UnreadableFileError, match="form cannot be read"):
        read_form(tmp_path / "none.toml", "run", FileFinder())


@pytest.mark.parametrize("kind", KINDS)
def test_blank_form_is_valid_and_answers_nothing(tmp_path: Path, kind: str) -> None:
    """The printed form holds every field, is TOML as it stands, and is all blanks."""
    text = print_blank(kind)
    assert tomllib.loads(text) == {kind: dict.fromkeys((f.name for f in list_fields(kind)), "")}
    assert read(tmp_path, text, kind) == {}
    for field in list_fields(kind):
        assert f'\n{field.name} = ""\n' in text
        assert field.question in text


@pytest.mark.parametrize("kind", KINDS)
def test_blank_form_is_the_same_in_every_encoding(kind: str) -> None:
    """A console redirects in its own code page: nothing in the form depends on it."""
    assert print_blank(kind).isascii()


_SAMPLES = {
    "text": "a", "number": "1,5", "count": "2", "yes or no": "yes", "three numbers": "1,1 2 3",
    "date": "2026-01-01", "time, UTC": "2026-01-01 00:00Z", "file": "x.tif",
    "coordinate system": "EPSG:6346",
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_filled_in_form_is_read(tmp_path: Path, kind: str) -> None:
    """Writing between the quotes fills in every field, as it would be typed at a terminal."""
    (tmp_path / "x.tif").write_bytes(b"x")
    text = print_blank(kind)
    for field in list_fields(kind):
        sample = field.choices[0] if field.choices else _SAMPLES[str(field.type)]
        text = text.replace(f'\n{field.name} = ""\n', f'\n{field.name} = "{sample}"\n')
    assert read(tmp_path, text, kind).keys() == {field.key for field in list_fields(kind)}


def test_numbers_may_stand_without_quotes(tmp_path: Path) -> None:
    """TOML numbers, lists and truth values are understood, too."""
    text = "range_max = 1.50\nlever_arm = [0.1, 0, 0.2]\ncontrol_used = false\n"
    values = {key: known.value for key, known in read(tmp_path, text).items()}
    assert values == {
        "run.range_max": "1.50",
        "run.lever_arm": ["0.1", "0", "0.2"],
        "run.control_used": False,
    }


@pytest.mark.parametrize(
    ("line", "remedy"),
    [
        ("range_min =", "put # before the line"),
        ("range_min = 1,5", "write 1.5"),
        ("lever_arm = [0,1, 0,0, 0,2]", "three numbers"),
        ("control_used = yes", "true or false"),
    ],
)
def test_what_is_no_value_is_an_error_not_a_zero(tmp_path: Path, line: str, remedy: str) -> None:
    """A number that was left out, or has a comma without quotes, names its line and what to do."""
    with pytest.raises(UsageError, match="line 2") as caught:
        read(tmp_path, f"[run]\n{line}\n")
    assert remedy in str(caught.value)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be"])
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_form_of_any_editor_is_read(tmp_path: Path, encoding: str, ends: str) -> None:
    """A mark at the beginning tells the encoding; PowerShell redirects in UTF-16."""
    text = '[run]\ngeoid_name = "Köln 1"\nfrme = "x"\n'.replace("\n", ends)
    mark = b"\xfe\xff" if encoding == "utf-16-be" else b""
    path = tmp_path / "form.toml"
    path.write_bytes(mark + text.encode(encoding))
    with pytest.raises(UsageError) as caught:
        read_form(path, "run", FileFinder())
    assert str(caught.value) == "form.toml line 3: a run has no field frme; did you mean frame?"
    path.write_bytes(mark + text.replace("frme", "frame").encode(encoding))
    assert read_form(path, "run", FileFinder())["run.geoid_name"] == KnownValue("Köln 1")


def test_form_in_an_encoding_that_nobody_can_tell_is_refused(tmp_path: Path) -> None:
    """A guess would put a wrong letter into the book: the line and the byte are named instead."""
    path = tmp_path / "form.toml"
    path.write_bytes('[run]\ngeoid_name = "Köln 1"\n'.encode("cp1252"))
    with pytest.raises(UsageError, match=r"line 2: a character is not UTF-8.*save it again"):
        read_form(path, "run", FileFinder())


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"\xff\xfe\x00\xd8"])
def test_form_of_broken_utf16_is_refused(tmp_path: Path, content: bytes) -> None:
    """Half a character is one line, not a traceback."""
    path = tmp_path / "form.toml"
    path.write_bytes(content)
    with pytest.raises(UsageError, match=r"form\.toml"):
        read_form(path, "run", FileFinder())


def test_settings_are_typed_and_confirmed() -> None:
    """A setting names its field with or without the kind of record."""
    values = parse_settings(
        "run", ["mount_mode=dr", "run.lever-arm = 0,1 0 0", "crs=EPSG:6346"], FileFinder()
    )
    assert values == {
        "run.mount_mode": KnownValue("drone"),
        "run.lever_arm": KnownValue(["0.1", "0", "0"], "m"),
        "run.crs": KnownValue("EPSG:6346"),
    }


def test_every_bad_setting_is_told() -> None:
    """Several bad settings are several lines."""
    with pytest.raises(UsageError) as caught:
        parse_settings(
            "run", ["mount_mode", "mout_mode=drone", "zone=1", "zone=2", "epoch="], FileFinder()
        )
    lines = str(caught.value).splitlines()
    assert len(lines) == 4
    assert "key=value" in lines[0]
    assert "did you mean mount_mode?" in lines[1]
    assert lines[2] == 'run.zone is set twice: found "1" and "2"; say it once'
    assert "is empty" in lines[3]


def test_answers_may_be_texts_or_values() -> None:
    """Texts are parsed as if typed, ready values are kept as they are."""
    read_value = KnownValue("1.2", known_by=KnownBy.READ, where="log")
    values = parse_values("run", {"run.decision": "rejected", "version": read_value}, FileFinder())
    assert values == {"run.decision": KnownValue("rejected"), "run.version": read_value}


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_is_found_by_name_and_by_key(kind: str) -> None:
    """The bare name and the full key mean the same field."""
    for field in list_fields(kind):
        assert find_field(kind, field.name) is FIELDS[field.key]
        assert find_field(kind, field.key) is FIELDS[field.key]


@pytest.mark.parametrize("name", ["control_file", "run.control_file", "control-table"])
def test_a_run_names_its_control_by_its_inputs(name: str) -> None:
    """No field is near what is meant: what to type is said."""
    with pytest.raises(UsageError) as caught:
        find_field("run", name)
    assert "--input TABLE" in str(caught.value)
    assert "did you mean" not in str(caught.value)
