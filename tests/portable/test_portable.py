"""Names that do not travel to Windows.

Source: Microsoft, Naming Files, Paths, and Namespaces.
"""

from __future__ import annotations

import pytest

from ledger.model.portable import (
    find_alike,
    is_refused_on_windows,
    remark_on_names,
    spell_exactly,
)


@pytest.mark.parametrize(
    "path",
    [
        "raw/CON",
        "raw/con.las",
        "nul",
        "aux.tar.gz",
        "raw/Lpt9.txt",
        "com1/tile.las",
        "com\u00b9",
        "raw/tile.",
        "raw/tile..",
        "raw/tile ",
        "raw./tile",
        "raw/a:b",
        "raw/what?.las",
        'raw/"a".las',
        "raw/a|b",
        "raw/a\\x80b",
        "raw/a\nb",
        "raw/" + "x" * 253,
    ],
)
def test_what_windows_cannot_hold(path: str) -> None:
    """Devices, reserved characters, a period or space at an end, and paths that are too long."""
    assert is_refused_on_windows(path)


@pytest.mark.parametrize(
    "path",
    [
        "raw/tile.las",
        "raw/console.las",
        "raw/com10.las",
        "raw/com.las",
        "raw/.hidden",
        "raw/ a.las",
        "raw/N\u00fa\u00f1ez [1] (2).las",
        "/media/card/a:b",
        "D:/raw/tile.las",
        "raw/" + "x" * 252,
    ],
)
def test_what_windows_can_hold(path: str) -> None:
    """Usual names raise no alarm, and neither does what stays outside the job."""
    assert not is_refused_on_windows(path)


def test_names_alike_but_for_case_are_found_in_any_part() -> None:
    """Folders count as well as files; letters without another case do not."""
    paths = [
        "raw/A.las",
        "raw/a.las",
        "raw/b.las",
        "Raw/b.las",
        "raw/\u00e9",
        "raw/\u00c9",
        "raw/\u00df",
        "raw/ss",
    ]
    assert find_alike(paths) == (
        ("raw/A.las", "raw/a.las"),
        ("raw/b.las", "Raw/b.las"),
        ("raw/\u00e9", "raw/\u00c9"),
    )


def test_remarks_are_one_sentence_a_kind() -> None:
    """However many names there are, each kind is said once, with the first names and a count."""
    assert remark_on_names(["raw/a", "raw/b"]) == ()
    (alike,) = remark_on_names(["raw/a", "raw/A", "raw/b", "raw/B", "raw/c", "raw/C"])
    assert alike.startswith("raw/A and raw/a differ only in upper and lower case")
    assert ", and 2 other pairs;" in alike
    (refused,) = remark_on_names(["raw/con", "raw/nul"])
    assert refused == ("raw/con, and 1 other file cannot be copied to Windows under these names")
    (long,) = remark_on_names(["raw/" + "x" * 4000])
    assert len(long) < 250


@pytest.mark.parametrize(
    ("path", "spelled"),
    [
        ("C:\\raw\\tile.las", "C:\\raw\\tile.las"),
        ("C:\\raw\\tile.", "\\\\?\\C:\\raw\\tile."),
        ("C:\\raw \\tile.las", "\\\\?\\C:\\raw \\tile.las"),
        ("C:\\raw\\nul.las", "\\\\?\\C:\\raw\\nul.las"),
        ("\\\\office\\share\\tile.", "\\\\?\\UNC\\office\\share\\tile."),
        ("\\\\?\\C:\\raw\\tile.", "\\\\?\\C:\\raw\\tile."),
        ("raw\\tile.", "raw\\tile."),
        ("C:\\raw\\..\\tile.", "C:\\raw\\..\\tile."),
        ("\\\\.\\nul", "\\\\.\\nul"),
        ("C:\\" + "x" * 240, "C:\\" + "x" * 240),
        ("C:\\" + "x" * 250, "\\\\?\\C:\\" + "x" * 250),
    ],
)
def test_windows_opens_such_names_when_they_are_spelled_exactly(path: str, spelled: str) -> None:
    """Names that Windows would open as another, or not at all, get its mark for exact paths."""
    assert spell_exactly(path) == spelled
