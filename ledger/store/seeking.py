"""Questions that begin with less than a whole digest: some digits, a path, a folder, a name.

Each is answered from an index, so that it costs the same in a large book as in a small one. What
was typed may hold bytes that are no text; they are looked for as the book writes them.
"""

from __future__ import annotations

import json
import sqlite3

from ledger.dataclass import dataclass
from ledger.model.artefact import FileRecord
from ledger.model.filename import escape_undecodable
from ledger.store.lookups import read_files

# Files with these bytes or all these points: `of` is the digest that was asked about.
_ALIKE = """alike AS (
  SELECT sha256, sha256 AS of FROM asked
  UNION SELECT o.sha256, p.sha256 FROM asked a JOIN fingerprints p ON p.sha256 = a.sha256
  JOIN fingerprints o ON o.full = p.full AND o.version = p.version AND o.count = p.count
  WHERE p.full != '' AND p.count > 0)"""
_FOLLOWERS = (
    f"{_ALIKE} SELECT DISTINCT f.relation, f.owner, f.entry, f.sha256, a.of"  # noqa: S608 - constants
    " FROM alike a JOIN files f ON f.sha256 = a.sha256"
    " WHERE f.relation IN ('audited', 'input') ORDER BY f.entry, f.place, a.of"
)


@dataclass(frozen=True)
class Follower:
    """An audit that held, or a run or step that used, a file with some bytes or all their points.

    Args:
        relation: `audited` or `input`.
        owner: id of the deliverable, or of the run or step.
        entry: the entry that says so.
        sha256: digest of that file.
        of: digest of the bytes that were asked about.
    """

    relation: str
    owner: str
    entry: int
    sha256: str
    of: str


@dataclass(frozen=True)
class Owner:
    """What the files of a folder belong to.

    Args:
        relation: `registered`, `input`, `output`, `audited` or `seen`.
        id: of the flight, run, step or deliverable; empty for none.
    """

    relation: str
    id: str


def read_digests(connection: sqlite3.Connection, prefix: str) -> tuple[str, ...]:
    """Return the digests of recorded files that begin with some hex digits, sorted."""
    rows = connection.execute(
        "SELECT DISTINCT sha256 FROM files WHERE sha256 >= ? AND sha256 < ? ORDER BY sha256",
        (prefix, f"{prefix}g"),
    ).fetchall()
    return tuple(row[0] for row in rows)


def read_file_at(connection: sqlite3.Connection, path: str) -> FileRecord | None:
    """Return the latest record of a path; where a step wrote over its input, the output."""
    found = read_files(
        connection,
        "WHERE f.path = ? ORDER BY f.entry DESC, f.relation = 'output' DESC, f.relation,"
        " f.place DESC LIMIT 1",
        (escape_undecodable(path),),
    )
    return found[0] if found else None


def read_paths_named(connection: sqlite3.Connection, name: str) -> tuple[str, ...]:
    """Return the paths that end in a file's name, sorted."""
    written = escape_undecodable(name)
    rows = connection.execute(
        "SELECT DISTINCT path FROM files WHERE substr(path, ?) = ? ORDER BY path",
        (-len(written) - 1, f"/{written}"),
    ).fetchall()
    return tuple(row[0] for row in rows)


def read_owners_below(connection: sqlite3.Connection, folder: str) -> tuple[Owner, ...]:
    """Return what the files recorded below a folder belong to, in order of entry."""
    written = escape_undecodable(folder)
    rows = connection.execute(
        "SELECT relation, owner FROM files WHERE path >= ? AND path < ?"
        " GROUP BY relation, owner ORDER BY min(entry)",
        (f"{written}/", f"{written}0"),  # 0 comes after / in the order of bytes
    ).fetchall()
    return tuple(Owner(*row) for row in rows)


def read_namers(connection: sqlite3.Connection, text: str) -> tuple[tuple[str, str], ...]:
    """Return the records, and their fields, whose value is this text: a grid need be no input."""
    wanted = escape_undecodable(text)
    written = json.dumps(wanted, ensure_ascii=False)
    rows = connection.execute(
        "SELECT owner, field, value FROM recorded WHERE instr(value, ?)"
        " ORDER BY length(owner), owner, field",
        (written,),
    ).fetchall()
    return tuple((owner, key) for owner, key, value in rows if json.loads(value)["value"] == wanted)


def read_followers(connection: sqlite3.Connection, sha256: str) -> tuple[Follower, ...]:
    """Return what used or held a file; one with the same points counts, every field included."""
    return _list_followers(connection, "SELECT ? AS sha256", sha256)


def read_followers_of_outputs(connection: sqlite3.Connection, process: str) -> tuple[Follower, ...]:
    """Return what used or held any output of a run or step, in one question."""
    made = "SELECT DISTINCT sha256 FROM files WHERE owner = ? AND relation = 'output'"
    return _list_followers(connection, made, process)


def _list_followers(connection: sqlite3.Connection, asked: str, value: str) -> tuple[Follower, ...]:
    rows = connection.execute(
        f"WITH asked AS ({asked}), {_FOLLOWERS}",
        (value,),
    ).fetchall()
    return tuple(Follower(*row) for row in rows)
