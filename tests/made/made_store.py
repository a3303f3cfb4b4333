"""A store of objects on loopback, with the three calls by which one is read.

ListObjectsV2, HeadObject and GetObject as the Amazon S3 API Reference describes them, `Range` and
`If-Match` included; the requests come from the general library that reads such stores, which would
not take answers of another shape. What was asked and what was served is counted, and a test may
have the store fail.
"""

from __future__ import annotations

import hashlib
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email.utils import formatdate
from functools import lru_cache
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, quote, unquote, urlsplit
from xml.sax.saxutils import escape

import pytest

from ledger.remote import objects

KEY, SECRET = "AKIAMADEUPFORTEST", "made-up/secret+for+the+tests"
TAKEN_IN = 1_750_000_000


@dataclass
class Store:
    """The objects of a store, and what came to pass there.

    Attributes:
        objects: content by bucket and key, as `bucket/key`.
        address: of the server.
        served: bytes of objects that were sent, by `bucket/key`.
        requests: what was asked: method, `bucket/key` and range.
        refused: names of objects that may not be read, of a bucket that may not be listed.
        cuts: by name, how many more answers end before their time.
        on_read: called with the name before an object is sent.
        ignores_ranges: sends the whole object whatever is asked.
        page: most names in one answer to a listing.
        wait_s: seconds before each answer.
    """

    objects: dict[str, bytes] = field(default_factory=dict)
    address: str = ""
    served: dict[str, int] = field(default_factory=dict)
    requests: list[tuple[str, str, str]] = field(default_factory=list)
    refused: set[str] = field(default_factory=set)
    cuts: dict[str, int] = field(default_factory=dict)
    on_read: object = None
    ignores_ranges: bool = False
    page: int = 1000
    wait_s: float = 0.0

    def put_folder(self, folder: Path, prefix: str) -> None:
        """Take in every file of a folder under names that begin with `bucket/folder`."""
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                name = path.relative_to(folder).as_posix()
                self.objects[f"{prefix}/{name}"] = path.read_bytes()

    def clear(self) -> None:
        """Hold nothing, fail in nothing, and have counted nothing."""
        fresh = Store(address=self.address)
        vars(self).update(vars(fresh))

    @property
    def sent(self) -> int:
        """Return the bytes of objects that were sent so far."""
        return sum(self.served.values())


@lru_cache(maxsize=256)  # else it would be most of what an answer costs
def _tag(content: bytes) -> str:
    return f'"{hashlib.md5(content).hexdigest()}"'  # noqa: S324 - what such stores use


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    store: Store

    def log_message(self, *_: object) -> None:
        """Say nothing."""

    def do_HEAD(self) -> None:
        self._answer("HEAD")

    def do_GET(self) -> None:
        self._answer("GET")

    def _answer(self, method: str) -> None:
        split = urlsplit(self.path)
        name = (
            unquote(split.path).strip("/")
            if "list-type" in split.query
            else unquote(split.path).lstrip("/")
        )
        self.store.requests.append((method, name, self.headers.get("Range", "")))
        time.sleep(self.store.wait_s)
        if f"Credential={KEY}/" not in self.headers.get("Authorization", ""):
            self._refuse(403, "InvalidAccessKeyId")
        elif name in self.store.refused:
            self._refuse(403, "AccessDenied")
        elif "list-type" in split.query:
            self._list(name, {key: value[0] for key, value in parse_qs(split.query).items()})
        elif name not in self.store.objects:
            self._refuse(404, "NoSuchKey")
        else:
            self._send_object(method, name)

    def _list(self, bucket: str, asked: dict[str, str]) -> None:
        names = sorted(
            name.removeprefix(f"{bucket}/")
            for name in self.store.objects
            if name.startswith(f"{bucket}/{asked.get('prefix', '')}")
        )
        if not any(name.startswith(f"{bucket}/") for name in self.store.objects):
            self._refuse(404, "NoSuchBucket")
            return
        after = asked.get("continuation-token", "")
        most = min(int(asked.get("max-keys", "1000")), self.store.page)
        left = [name for name in names if name > after]
        rows = "".join(self._write_row(bucket, name) for name in left[:most])
        more = len(left) > most
        token = ""
        if more:
            token = f"<NextContinuationToken>{escape(left[most - 1])}</NextContinuationToken>"
        body = (
            '<?xml version="1.0" encoding="UTF-8"?>'
            '<ListBucketResult xmlns="http://s3.amazonaws.com/doc/2006-03-01/">'
            f"<Name>{bucket}</Name><KeyCount>{len(left[:most])}</KeyCount>"
            f"<EncodingType>url</EncodingType>"
            f"<IsTruncated>{str(more).lower()}</IsTruncated>{token}{rows}"
            "</ListBucketResult>"
        )
        self._send(200, body.encode(), {"Content-Type": "application/xml"})

    def _write_row(self, bucket: str, name: str) -> str:
        content = self.store.objects[f"{bucket}/{name}"]
        return (
            f"<Contents><Key>{quote(name)}</Key><Size>{len(content)}</Size>"
            f"<LastModified>2025-06-15T15:06:40.000Z</LastModified>"
            f"<ETag>{escape(_tag(content))}</ETag><StorageClass>STANDARD</StorageClass></Contents>"
        )

    def _send_object(self, method: str, name: str) -> None:
        if method == "GET" and callable(self.store.on_read):
            self.store.on_read(name)
        content = self.store.objects[name]
        facts = {
            "ETag": _tag(content),
            "Last-Modified": formatdate(TAKEN_IN, usegmt=True),
            "Accept-Ranges": "bytes",
        }
        if self.headers.get("If-Match", facts["ETag"]) != facts["ETag"]:
            self._refuse(412, "PreconditionFailed")
            return
        asked, status = self.headers.get("Range", ""), 200
        if asked and not self.store.ignores_ranges:
            first, last = asked.removeprefix("bytes=").split("-")
            facts["Content-Range"] = f"bytes {first}-{last}/{len(content)}"
            content, status = content[int(first) : int(last) + 1], 206
        if method == "GET":
            self.store.served[name] = self.store.served.get(name, 0) + len(content)
        self._send(status, content, facts, cut=method == "GET" and self._take_cut(name))

    def _take_cut(self, name: str) -> bool:
        left = self.store.cuts.get(name, 0)
        self.store.cuts[name] = left - 1
        return left > 0

    def _refuse(self, status: int, code: str) -> None:
        body = f"<Error><Code>{code}</Code><Message>{SECRET}</Message></Error>".encode()
        self._send(status, body, {"Content-Type": "application/xml"})

    def _send(self, status: int, body: bytes, facts: dict[str, str], *, cut: bool = False) -> None:
        self.send_response(status)
        for name, value in facts.items():
            self.send_header(name, value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if self.command == "HEAD":
            return
        self.wfile.write(body[: len(body) // 2] if cut else body)
        if cut:
            self.close_connection = True


@contextmanager
def open_store() -> Iterator[Store]:
    """Yield an empty store that answers on loopback."""
    store = Store()
    handler = type("_OfStore", (_Handler,), {"store": store})
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    server.daemon_threads = True
    store.address = f"http://127.0.0.1:{server.server_address[1]}"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield store
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def make_environment(address: str) -> dict[str, str]:
    """Return what opens the store, as the library reads it from the environment."""
    return {
        "AWS_ACCESS_KEY_ID": KEY,
        "AWS_SECRET_ACCESS_KEY": SECRET,
        "AWS_DEFAULT_REGION": "us-east-1",
        "AWS_ENDPOINT_URL": address,
        "AWS_EC2_METADATA_DISABLED": "true",
        "AWS_CONFIG_FILE": "/nowhere",
        "AWS_SHARED_CREDENTIALS_FILE": "/nowhere",
        "AWS_MAX_ATTEMPTS": "1",
        "NO_PROXY": "127.0.0.1",
    }


def use_store(patch: pytest.MonkeyPatch, address: str) -> None:
    """Have this process read from a store; what it had opened is forgotten."""
    for name, value in make_environment(address).items():
        patch.setenv(name, value)
    objects.forget()
