"""Addresses as they are typed: read, or refused without being repeated."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.errors import UsageError
from ledger.model.address import Address, is_address
from ledger.volumes import find_volume, is_connected, is_outside_job
from ledger.walk import read_dropped_place

HIDDEN = "Zx9-kw!7Qp"


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("s3://bucket/a/tiles", Address("s3", "bucket", "a/tiles")),
        ("s3://bucket/a/tiles/", Address("s3", "bucket", "a/tiles")),
        ("S3://bucket", Address("s3", "bucket")),
        ("s3://bucket/", Address("s3", "bucket")),
        (" 's3://bucket/Lot 3/%20 +'", Address("s3", "bucket", "Lot 3/%20 +")),
        ("file:///media/a%20b", Path("/media/a b")),
        (r"C:\tiles", Path(r"C:\tiles")),
        ("C:/tiles", Path("C:/tiles")),
        ("C://tiles", Path("C://tiles")),
        ("tiles", Path("tiles")),
        ("s3:/bucket", Path("s3:/bucket")),
    ],
)
def test_an_address_or_a_path_is_meant(text: str, meant: Path | Address) -> None:
    """One letter before the colon is a drive of Windows; names are taken as they are written."""
    assert read_dropped_place(text) == meant


@pytest.mark.parametrize(
    "text",
    [
        f"s3://ann:{HIDDEN}@bucket/tiles",
        f"s3://{HIDDEN}@bucket/tiles",
        f"s3://bucket/tiles?X-Amz-Signature={HIDDEN}",
        f"s3://bucket/tiles#{HIDDEN}",
        f"s3://bucket/password={HIDDEN}/tiles",
        f"s3:///{HIDDEN}",
        f"s3://bucket//{HIDDEN}",
        f"s3://bucket/../{HIDDEN}",
        f"cache::s3://ann:{HIDDEN}@bucket/tiles",
        f"https://bucket.example/tiles?sig={HIDDEN}",
        f"gs://{HIDDEN}/tiles",
    ],
)
def test_what_may_open_a_store_is_refused_unsaid(text: str) -> None:
    """User information and queries (RFC 3986, sections 3.2.1 and 3.4) are not repeated."""
    with pytest.raises(UsageError) as refused:
        read_dropped_place(text)
    assert HIDDEN not in str(refused.value)
    assert "\n" not in str(refused.value)


def test_an_address_in_the_book_lies_on_a_volume_that_is_never_connected() -> None:
    """Whoever looks at files of drives passes over it; nothing in the job is taken for one."""
    stored = "s3://bucket/a/tiles/t.laz"
    assert is_address(stored)
    assert is_outside_job(stored)
    assert find_volume(stored) == "s3://bucket"
    assert not is_connected("s3://bucket")
    assert not any(map(is_address, ("s3:/bucket", "out/s3://x", "C:/x", "//host/share", "")))
