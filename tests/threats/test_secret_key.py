"""The office's private key and its passphrase are nowhere but in the user's own folder.

A whole job is done, and then every byte that the commands left or printed is searched, those inside
compressed contents and archives too.
"""

from __future__ import annotations

import base64
import sqlite3
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from job_bench import JobBench

from ledger.sealing.keys import PRIVATE_NAME, PUBLIC_NAME
from ledger.store.machine import find_home
from ledger.store.reading import BOOK_NAME

PASSPHRASE = "slack water at nine"  # noqa: S105 - the one of these tests


@dataclass
class Job:
    """A job that was done whole, what was printed on the way, and where the key lies."""

    bench: JobBench
    home: Path
    printed: list[str] = field(default_factory=list)

    def do(self, *words: str | Path, statuses: tuple[int, ...] = (0, 1, 3)) -> None:
        """Type a command, as a person and as a script."""
        for form in ((), ("--json",)):
            ran = self.bench.run(*words, *form)
            assert ran.status in statuses, (words, ran.err)
            self.printed += [ran.out, ran.err]

    def list_bytes(self) -> Iterator[tuple[str, bytes]]:
        """Yield what was printed and what lies outside the user's folder, unpacked."""
        for text in self.printed:
            yield "what was printed", text.encode()
        for path in sorted(self.bench.base.rglob("*")):
            if path.is_file() and not path.is_relative_to(self.home):
                yield str(path), path.read_bytes()
                if zipfile.is_zipfile(path):
                    with zipfile.ZipFile(path) as packed:
                        yield from (
                            (f"{path}/{name}", packed.read(name)) for name in packed.namelist()
                        )
        with closing(sqlite3.connect(self.bench.job / BOOK_NAME)) as book:
            for name, content in book.execute("SELECT sha256, bytes FROM blobs"):
                yield f"blob {name}", zlib.decompress(content)

    def list_places(self, secret: bytes) -> list[str]:
        """Return where some bytes lie."""
        return [place for place, content in self.list_bytes() if secret in content]


def list_forms(secret: bytes) -> list[bytes]:
    """Return bytes as they are, and as the usual texts of them."""
    texts = (secret.hex(), secret.hex().upper(), base64.b64encode(secret).decode().rstrip("="))
    return [
        secret,
        *(text.encode() for text in texts),
        base64.urlsafe_b64encode(secret).rstrip(b"="),
    ]


def read_secrets(pem: bytes, passphrase: str) -> list[bytes]:
    """Return whatever would give a key away: its 32 bytes, its file, and what unlocks it."""
    key = load_pem_private_key(pem, passphrase.encode() or None)
    raw = key.private_bytes(Encoding.Raw, PrivateFormat.Raw, NoEncryption())
    plain = key.private_bytes(Encoding.DER, PrivateFormat.PKCS8, NoEncryption())
    lines = [line for line in pem.splitlines() if line and not line.startswith(b"-----")]
    unlocks = list_forms(passphrase.encode()) if passphrase else []
    return [*list_forms(raw), *list_forms(plain), *lines, b"PRIVATE KEY", *unlocks]


@pytest.fixture(scope="module", params=["", PASSPHRASE], ids=["open", "locked"])
def job(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Job]:
    """Give a job from its start to its handover, sealed without and with a passphrase."""
    base = tmp_path_factory.mktemp("work")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATHBOOK_HOME", str(base / "home"))
        if request.param:
            patch.setenv("SWATHBOOK_SEAL_PASSPHRASE", request.param)
        made = Job(JobBench(base), find_home())
        bench = made.bench
        bench.write("raw/scan.bin", b"scan")
        bench.write("deliver/letter.csv", b"1,2\n")
        (base / "drive").mkdir()
        made.do("register", "raw", "--flight", "F1")
        made.do("record", "deliver", "--input", "F1", "--set", "software=example suite")
        made.do("audit", "deliver")
        made.do("seal")
        words = ("--to", "client engineer", "--use", "tests", "--despite", "as agreed", "--bag")
        made.do("handover", "deliver", *words)
        made.do("seal")
        made.do("receipt", "deliver/letter.csv")
        bench.run("support", base / "support.zip")
        made.do("recheck", "--against", next((bench.job / "seals").iterdir()))
        made.do("trace", "deliver/letter.csv")
        if request.param:
            patch.setenv("SWATHBOOK_SEAL_PASSPHRASE", f"{request.param} or ten")
            bench.write("raw/other.bin", b"more")
            made.do("register", "raw")
            made.do("seal", statuses=(2,))
            patch.setenv("SWATHBOOK_SEAL_PASSPHRASE", request.param)
        made.do("find", "seal", statuses=(0, 1, 2))
        yield made


def test_no_byte_of_the_private_key_or_its_passphrase_left_the_users_folder(
    job: Job, request: pytest.FixtureRequest
) -> None:
    """Neither book, copies, bag, receipts, bundle and pages nor any line that was printed."""
    passphrase = request.node.callspec.params["job"]
    pem = (job.home / PRIVATE_NAME).read_bytes()
    secrets = read_secrets(pem, passphrase)
    assert len(secrets) > 10
    assert [place for secret in secrets for place in job.list_places(secret)] == []


def test_the_search_finds_what_is_there(job: Job) -> None:
    """The public key is in a seal, the delivery in the bag, and a compressed content is read."""
    name = (job.home / PUBLIC_NAME).read_text(encoding="utf-8").split("+")[0]
    places = job.list_places(name.encode())
    assert any("/seals/" in place for place in places)
    assert any("/receipts/" in place for place in places)
    assert any("/bag/" in place for place in job.list_places(b"1,2\n"))
    assert any("blob" in place for place in job.list_places(b"letter.csv"))
    assert any("support.zip/" in place for place, _ in job.list_bytes())
