"""Objects of a store: listed, read in ranges of one version, and every failure told for what it is.

The requests and the reading of the answers are those of the general library; the answers are
those that the Amazon S3 API Reference describes.
"""

from __future__ import annotations

import sys
import threading

import pytest
import s3fs
from made_store import SECRET, TAKEN_IN, Store

from ledger.errors import (
    ChangedFileError,
    StoreError,
    SwathbookError,
    UnreadableFileError,
    UsageError,
)
from ledger.fixity import read_fixity
from ledger.model.address import Address
from ledger.remote import objects
from ledger.remote.files import RemoteFile, fetch_ahead, list_store, look, open_place
from ledger.remote.naming import name_objects

FOLDER = Address("s3", "bucket", "a")
CONTENT = bytes(range(256)) * 40_000  # 10 MB: three blocks of a reading through
# FIPS 180-4 by another program: `python -c 'import sys; …' | sha256sum` over the same bytes.
DIGEST = "19d6d9faf9ce166abeb8452ff274241877eb1c09580f7ef62ff77696a6bee1fc"


@pytest.fixture
def one(store: Store) -> RemoteFile:
    """Return an object of 10 MB."""
    store.objects["bucket/a/one"] = CONTENT
    (listed,) = list_store(FOLDER)
    store.requests.clear()
    return listed


def test_a_folder_is_listed_whole_over_many_pages(store: Store) -> None:
    """Names below it alone, with what the store says; a mark of a folder is no file."""
    store.page = 3
    names = [f"tile {n} +ü%20.laz" for n in range(7)]
    store.objects |= {f"bucket/a/{name}": b"12345" for name in names}
    store.objects |= {"bucket/a/": b"", "bucket/a/sub/": b"", "bucket/ab/c": b"", "bucket/b": b""}
    listed = list_store(FOLDER)
    assert [each.key for each in listed] == names
    assert {each.size for each in listed} == {5}
    assert {each.mtime_ns for each in listed} == {TAKEN_IN * 10**9}
    assert str(listed[0]) == f"s3://bucket/a/{names[0]}"
    assert [each.key for each in list_store(Address("s3", "bucket", "b"))] == []
    assert len(list_store(Address("s3", "bucket"))) == 9


def test_a_digest_is_that_of_every_byte_each_fetched_once(one: RemoteFile, store: Store) -> None:
    """In blocks, so that memory is bounded; the digest is that of another program."""
    assert read_fixity(one).sha256 == DIGEST
    assert store.sent == len(CONTENT)
    ranges = [asked for method, _, asked in store.requests if method == "GET"]
    assert ranges == ["bytes=0-4194303", "bytes=4194304-8388607", "bytes=8388608-10239999"]


def test_here_and_there_little_is_fetched(one: RemoteFile, store: Store) -> None:
    """A few numbers from both ends of 10 MB cost two small ranges, however often they are read."""
    with open_place(one) as stream:
        for _ in range(3):
            stream.seek(100)
            assert stream.read(4) == CONTENT[100:104]
            stream.seek(-8, 2)
            assert stream.read() == CONTENT[-8:]
    assert store.sent <= 2 * 16_384
    assert look(one).bytes == len(CONTENT)


def test_what_is_said_ahead_is_fetched_many_at_once(one: RemoteFile, store: Store) -> None:
    """The store answers only when four have asked; each small block is fetched once, and right."""
    offsets = list(range(5_000, len(CONTENT), 150_000))[:64]
    together = threading.Barrier(4)
    with open_place(one) as stream:
        fetch_ahead(stream, offsets)
        store.on_read = lambda _: together.wait(timeout=10)
        for offset in offsets:
            stream.seek(offset)
            assert stream.read(8) == CONTENT[offset : offset + 8]
    asked = [place for method, _, place in store.requests if method == "GET"]
    assert len(asked) == len(set(asked)) == len(offsets)
    assert store.sent == len(offsets) * 8_192


def test_another_version_is_a_changed_file(one: RemoteFile, store: Store) -> None:
    """Before it is opened, between two ranges (If-Match: RFC 9110, 13.1.1), and when it is gone."""
    with pytest.raises(ChangedFileError, match="another version"):
        _read_two_versions(one, store)
    with pytest.raises(ChangedFileError):
        look(one)
    del store.objects["bucket/a/one"]
    with pytest.raises(ChangedFileError), open_place(one):
        pytest.fail("it is not there")


def _read_two_versions(one: RemoteFile, store: Store) -> None:
    with open_place(one, "straight") as stream:
        assert stream.read(10) == CONTENT[:10]
        store.objects["bucket/a/one"] = CONTENT[::-1]
        stream.seek(9_000_000)
        stream.read(10)


@pytest.mark.parametrize("told", [ValueError("the points cannot be decoded"), None])
def test_what_a_decoder_makes_of_an_error_does_not_blame_the_file(
    one: RemoteFile, store: Store, told: ValueError | None
) -> None:
    """Swallowed or turned into another error, the change is what leaves the block."""
    with pytest.raises(ChangedFileError):
        _decode(one, store, told)


def _decode(one: RemoteFile, store: Store, told: ValueError | None) -> None:
    with open_place(one) as stream:
        store.objects["bucket/a/one"] = b"other"
        try:
            stream.read(10)
        except SwathbookError:
            if told is not None:
                raise told from None


def test_a_connection_that_breaks_is_tried_again(
    one: RemoteFile, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cut once it costs a try, and the bytes are right; cut for good, the store is lost."""
    monkeypatch.setattr(s3fs.S3FileSystem, "retries", 2)
    store.cuts["bucket/a/one"] = 1
    assert read_fixity(one).sha256 == DIGEST
    store.cuts["bucket/a/one"] = 1000
    with pytest.raises(StoreError, match="broke off, and trying again did not help"):
        read_fixity(one)


def test_each_refusal_of_a_store_is_one_line_of_our_own(one: RemoteFile, store: Store) -> None:
    """No such bucket, not allowed, a range that is not kept; what the store wrote is left out."""
    told = [_fail(list_store, Address("s3", "nothing", "a"), UnreadableFileError)]
    assert "s3://nothing/a: there is no such bucket or object in the store" in told[-1]
    store.refused |= {"bucket", "bucket/a/one"}
    told += [_fail(list_store, FOLDER, UnreadableFileError), _fail(look, one, UnreadableFileError)]
    assert all("does not allow reading this" in each for each in told[1:])
    store.refused.clear()
    store.ignores_ranges = True
    told.append(_fail(read_fixity, one, StoreError))
    assert "found 10,240,000 bytes, expected 4,194,304" in told[-1]
    assert not any(SECRET in each or "\n" in each for each in told)


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("AWS_ACCESS_KEY_ID", "somebody", "not accept the credentials in the environment: found I"),
        ("AWS_ENDPOINT_URL", "http://127.0.0.1:9", "the store cannot be reached"),
    ],
)
def test_a_store_that_cannot_be_used_is_one_line(
    store: Store, monkeypatch: pytest.MonkeyPatch, name: str, value: str, words: str
) -> None:
    """Neither the credentials nor the address of the server are repeated."""
    monkeypatch.setenv(name, value)
    objects.forget()
    told = _fail(list_store, FOLDER, StoreError)
    objects.forget()
    assert words in told
    assert not any(each in told for each in (SECRET, "somebody", "127.0.0.1", "\n"))


def test_without_credentials_nothing_is_asked(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The library signs no request then; the line says where it looks for them."""
    monkeypatch.delenv("AWS_ACCESS_KEY_ID")
    monkeypatch.delenv("AWS_SECRET_ACCESS_KEY")
    objects.forget()
    told = _fail(list_store, FOLDER, StoreError)
    objects.forget()
    assert "no credentials for the store are in the environment" in told
    assert store.requests == []


def _fail(read, place, kind) -> str:
    with pytest.raises(kind) as failed:
        read(place)
    return str(failed.value)


def test_without_its_library_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """One line, before anything is read."""
    monkeypatch.delitem(sys.modules, "ledger.remote.objects", raising=False)
    monkeypatch.setitem(sys.modules, "s3fs", None)
    with pytest.raises(UsageError, match=r'not here \(s3fs\); pip install "swathbook\[s3\]"'):
        list_store(FOLDER)


def test_names_that_come_out_alike_stay_two() -> None:
    """NFC in the book, as names of files (UAX 15); what no folder can hold is told."""
    keys = ["u\u0308.laz", "\u00fc.laz", "a//b", "../c", "d/", "e?versionId=1", "f"]
    named = list(name_objects(RemoteFile(FOLDER, key, 1, 0, "v") for key in keys))
    assert {each.file.key: (each.name, each.raw) for each in named if not each.fault} == {
        "\u00fc.laz": ("\u00fc.laz", ""),
        "u\u0308.laz": ("\u00fc.laz (75cc882e6c617a)", "75cc882e6c617a"),
        "f": ("f", ""),
    }
    assert {each.file.key for each in named if each.fault} == {
        "a//b",
        "../c",
        "d/",
        "e?versionId=1",
    }
