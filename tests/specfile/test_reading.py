"""`job.toml` is read strictly, and every fault is told at once in plain words."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from pyproj.database import get_units_map

from ledger.errors import SpecificationError
from ledger.specfile.reading import parse_specification, read_specification

COMPLETE = """\
carried = ["coordinates.geoid"]

[job]
reference = "Kö-7"
title = "Stockpile"

[folders]
copies = 3

[coordinates]
horizontal = "EPSG:6346"
epoch = 2010
vertical = "orthometric"
vertical_crs = "EPSG:5703"
geoid = { name = "made-up", version = "1", file = "geoid/made-up.tif" }
unit = { horizontal = "metre", vertical = "us-survey-foot" }
scale_basis = "grid"
combined_factor = 0.9996

[delivery]
items = ["tiles", "dtm"]
tile_size_m = 80
boundary = "site.geojson"

[criteria]
profile = "some-profile"

[criteria.some-check]
limit_m = 0.05
since = 2026-05-14

[checks]
off = { other-check = "one tile only" }
"""

TEN_FAULTS = """\
carried = ["coordinates.geiod"]
[job]
reference = 12
titel = "a"
[folders]
copies = 1.5
[coordinates]
epoch = "2010"
vertical = "ellipsoid"
geoid = "demo"
unit = { horizontal = "feet", vertical = "metre" }
combined_factor = nan
[delivery]
items = ["tiles",
         3]
"""


def read_faults(text: str | bytes) -> list[str]:
    """Return the lines that a person would see."""
    content = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(SpecificationError) as caught:
        parse_specification(content)
    return str(caught.value).splitlines()


def test_complete_specification_is_read() -> None:
    """Every key arrives in the model with its type, criteria of checks as written."""
    read = parse_specification(COMPLETE.encode())
    assert read.job.reference == "Kö-7"
    assert read.coordinates.epoch == 2010.0
    assert read.coordinates.geoid is not None
    assert read.coordinates.geoid.file == "geoid/made-up.tif"
    assert read.coordinates.unit.vertical == "us-survey-foot"
    assert read.delivery.items == ("tiles", "dtm")
    assert read.carried == ("coordinates.geoid",)
    assert read.criteria["profile"] == "some-profile"
    assert read.criteria["some-check"] == {"limit_m": 0.05, "since": "2026-05-14"}
    assert read.checks.off == {"other-check": "one tile only"}


def test_empty_file_is_all_blanks() -> None:
    """A file without keys is valid: a blank costs something later, it is no fault."""
    assert parse_specification(b"").job.reference is None


def test_ten_faults_are_ten_lines_in_order() -> None:
    """Ten faults give ten lines, each with the line of its key, sorted."""
    lines = read_faults(TEN_FAULTS)
    assert [line.split(":")[0] for line in lines] == [
        f"job.toml line {number}" for number in (1, 3, 4, 6, 8, 9, 10, 11, 12, 15)
    ]
    keys = [line.split(": ")[1].split(" ")[0] for line in lines]
    assert keys == [
        "carried[1]",
        "job.reference",
        "job.titel",
        "folders.copies",
        "coordinates.epoch",
        "coordinates.vertical",
        "coordinates.geoid",
        "coordinates.unit.horizontal",
        "coordinates.combined_factor",
        "delivery.items[2]",
    ]


def test_wording_of_the_validator_is_never_shown() -> None:
    """No fault speaks of inputs, fields, objects or types as the library does."""
    told = "\n".join(read_faults(TEN_FAULTS)).lower()
    for word in ("input should", "pydantic", "permitted", "field required", "valid string", "dict"):
        assert word not in told


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("[job]\nrefrence = 'a'", "did you mean reference?"),
        ("[coordinate]\nepoch = 2010.0", "did you mean coordinates?"),
        ("[coordinates]\nvertical = 'orthometrical'", "did you mean orthometric?"),
        ("[job]\nepoch = 2010.0", "it belongs in [coordinates]"),
        ("carried = ['coordinates.geiod']", "did you mean coordinates.geoid?"),
        ("[coordinates]\nunit = {horizontal = 'metres'}", "did you mean metre?"),
    ],
)
def test_nearest_valid_name_is_offered(text: str, remedy: str) -> None:
    """A misspelt name or choice is answered with the one that is most like it."""
    (line,) = read_faults(text)
    assert line.endswith(remedy)


@pytest.mark.parametrize("word", ["feet", "foot", "ft", "Ft."])
def test_bare_feet_are_told_that_there_are_two(word: str) -> None:
    """A foot without its kind is refused with what the difference is worth."""
    (line,) = read_faults(f"[coordinates]\nunit = {{ vertical = '{word}' }}")
    assert "us-survey-foot or international-foot" in line
    assert "2 parts in a million: 8 m in a northing of 4 000 km" in line


def test_difference_of_the_feet_is_as_told() -> None:
    """The sentence agrees with the unit sizes of the EPSG registry (9002 and 9003) in PROJ."""
    sizes = {unit.code: unit.conv_factor for unit in get_units_map("EPSG", "linear").values()}
    assert sizes["9002"] == 0.3048
    assert sizes["9003"] == pytest.approx(1200 / 3937, rel=1e-15)
    relative = Fraction(1200, 3937) / Fraction(3048, 10000) - 1
    assert round(relative * 1_000_000, 3) == 2
    assert round(relative * 4_000_000) == 8


@pytest.mark.parametrize(
    ("content", "line", "words"),
    [
        (b"\xef\xbb\xbf[job]\n", 1, "byte order mark"),
        ("[job]\nreference = 'Köln'\n".encode("latin-1"), 2, "byte F6 (hex), perhaps “ö”"),
        ("[job]\r\nreference = “A”\r\n".encode("cp1252"), 2, "byte 93 (hex), perhaps ““”"),
        (b"[job]\nreference = '\x81'\n", 2, "byte 81 (hex), expected UTF-8"),
        ("[job]\n".encode("utf-16"), 1, "UTF-16"),
        ("[job]\n".encode("utf-16-be"), 1, "UTF-16"),
        (b"[job]\n\nreference =\n", 3, "value is missing"),
        (b"[job]\ntitle = 'a'\ntitle = 'b'\n", 3, "twice"),
        (b"[job]\n[folders]\n[job]\n", 3, "twice"),
        (b'[coordinates.geoid]\nname = "a"\nfile = "C:\\geoid\\x.tif"\n', 3, "write / in paths"),
        (
            b"\n[coordinates]\nepoch = 2010,5\n",
            3,
            "a comma: found epoch = 2010,5, expected",
        ),
        (b"a = 1\nb = { c = 1,5 }  # remark", 2, "write 1.5"),
        (b"a = [0,05]", 1, "write 0.05"),
        (
            b"a = .5",
            1,
            "expected a digit before it; write 0.5",
        ),
        (b"a = 5.", 1, "write 5.0"),
        (b"a = 0412", 1, 'write 412, or "0412" for a text'),
        (b"a = Yes", 1, "true or false, in small letters"),
        (b"a = Pit, 3,5 ha", 1, "put text in straight quotes"),
        (b"a = { b = 1, b = 2 }", 1, "a key stands there twice"),
        (b"[job]\rtitle = 'a'\r", 1, "save it again with such line ends"),
        (b"[job]\nreference \xe2\x80\x9cA\xe2\x80\x9d\n", 2, "no = after the name"),
        (b"[delivery]\nitems = ['a',\n", 2, "close it with ]"),
        (b"\n\n[job]\nreference = " + b"9" * 5000, 4, "too long"),
        (b"a = 1\nb = " + b"[" * 100 + b"]" * 100, 2, "nested too deeply"),
    ],
)
def test_unreadable_text_is_named_with_its_line(content: bytes, line: int, words: str) -> None:
    """A wrong encoding or a broken line is one fault that says what it is and where."""
    (told,) = read_faults(content)
    assert told.startswith(f"job.toml line {line}: ")
    assert words in told


def test_bottomless_nesting_is_one_fault() -> None:
    """Brackets without end exhaust no stack."""
    (told,) = read_faults(b"a = " + b"[" * 100_000)
    assert "nested too deeply" in told


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[job]\nreference = 2026-05-14", "is a date, not a text: found 2026-05-14"),
        ("[job]\nreference = 10:30:00", "is a date, not a text: found 10:30:00"),
        ("[coordinates]\nepoch = nan", "is not a finite number"),
        ("[coordinates]\nepoch = 1e999", "is not a finite number"),
        ("[coordinates]\nepoch = true", "is not a number: found true"),
        ("[coordinates]\nepoch = '2010.5'", "expected a number; write 2010.5 without quotes"),
        ("[coordinates]\nepoch = '2010,5'", "write 2010.5 without quotes, with a point"),
        ("[delivery]\ntile_size_m = '80 m'", "write 80 without quotes, without its unit"),
        ("[folders]\ncopies = '2'", "write 2 without quotes"),
        ("[coordinates]\nepoch = 'soon'", "write one, without quotes"),
        ("[coordinates]\nepoch = 1066.0", "is out of range: found 1066.0, expected 1900 or more"),
        ("[folders]\ncopies = 99999999999999999999", "is too large"),
        ("[criteria.a]\nlimit_m = inf", "is not a finite number"),
        ("[job]\nreference = ' '", "is empty"),
        ("[coordinates]\ngeoid = { version = '1' }", "coordinates.geoid.name is missing"),
        ("criteria = 'usgs'", "is not a section"),
        ("[criteria]\ndensity = 4", "expected a section [criteria.density]"),
        ("[criteria]\nprofile = ['a']", "the name of one profile"),
        ("carried = 'coordinates.geoid'", "is not a list"),
        ("[checks]\noff = { seams = true }", "is not a text: found true"),
        ("[checks]\noff = { seams = '' }", "is empty"),
    ],
)
def test_one_fault_is_one_sentence(text: str, words: str) -> None:
    """A value of the wrong kind is told once, with what was found."""
    (line,) = read_faults(text)
    assert words in line


def test_absent_file_says_what_to_do(tmp_path: Path) -> None:
    """Without `job.toml` the message names the folder and the next command."""
    with pytest.raises(SpecificationError, match="swathbook start") as caught:
        read_specification(tmp_path / "job.toml")
    assert str(tmp_path) in str(caught.value)


def test_folder_in_place_of_the_file_is_refused(tmp_path: Path) -> None:
    """A folder of that name is an error of ours, not of the system."""
    with pytest.raises(SpecificationError, match="cannot be read"):
        read_specification(tmp_path)


def test_file_is_read_from_disk(tmp_path: Path) -> None:
    """The bytes on disk give the same as the bytes in hand."""
    path = tmp_path / "job.toml"
    path.write_bytes(COMPLETE.replace("\n", "\r\n").encode())
    assert read_specification(path) == parse_specification(COMPLETE.encode())
