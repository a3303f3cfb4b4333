"""What is fed with bytes that nobody can trust, what it begins with, and how that is altered.

A target takes bytes and a scratch folder. An error of ours is an answer; whatever else it raises is
a fault, and so is a finding that a check of ours broke.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import fuzzseeds
from alter import Dice, alter
from fuzzcommands import feed_book, feed_entries, feed_job, feed_scratch, feed_wish
from fuzzreaders import (
    feed_boundary,
    feed_form,
    feed_geo_keys,
    feed_grid,
    feed_las,
    feed_nmea,
    feed_photo,
    feed_points,
    feed_receipt,
    feed_rinex,
    feed_seal,
    feed_settings,
    feed_specification,
    feed_track,
    feed_wkt,
)
from realseeds import list_geo_keys, list_real, list_specifications, list_wkt
from reshape import Reshape, reshape_book, reshape_journal, reshape_json, reshape_toml

Feed = Callable[[bytes, Path], None]
_KEEP_FORM = 0.7


@dataclass(frozen=True)
class Target:
    """One thing to be fed.

    Args:
        feed: takes bytes and an empty scratch folder.
        seeds: returns bytes that it is meant for.
        words: what its format is made of, for whoever alters bytes.
        command: whether it runs whole commands, and so is slow.
        reshape: changes what its format says and keeps its form; None where bytes are all there is.
    """

    feed: Feed
    seeds: Callable[[], Iterable[bytes]]
    words: tuple[bytes, ...] = ()
    command: bool = False
    reshape: Reshape | None = None

    def alter(self, content: bytes, dice: Dice) -> bytes:
        """Return bytes altered: most keep their form where the format has one."""
        if self.reshape is not None and dice.random() < _KEEP_FORM:
            return self.reshape(content, dice)
        return alter(content, dice, self.words)


_WKT_WORDS = b"PROJCS GEOGCS COMPD_CS VERT_CS VERTCRS PROJCRS ENSEMBLE UNIT AUTHORITY ID PARAMETER"
_TOML_WORDS = b"[job] [coordinates] [delivery] [criteria. [[ ]] = ''' \"\"\" nan inf 1979-05-27"
_JSON_WORDS = b'"values" "kind" "seq" "files" "sha256" "path" null true [] {} 1e999 -1 "\\ud800"'

TARGETS: dict[str, Target] = {
    "las": Target(feed_las, list_real("*.la[sz]"), (b"LASF", b"LASF_Projection", b"copc")),
    "geo-keys": Target(feed_geo_keys, list_geo_keys),
    "wkt": Target(feed_wkt, list_wkt, tuple(_WKT_WORDS.split())),
    "grid": Target(feed_grid, list_real("*.tif", "*.gtx"), (b"II*\0", b"MM\0*")),
    "photo": Target(feed_photo, fuzzseeds.make_photos, (b"Exif\0\0", b"\xff\xe1")),
    "rinex": Target(feed_rinex, list_real("*.??[oODd]", "*.rnx", "*.gz")),
    "nmea": Target(feed_nmea, list_real("*.log", "*.txt"), (b"$GPGGA,", b"$GNRMC,", b"$GPZDA,")),
    "track": Target(feed_track, fuzzseeds.list_tracks, (b"time", b"lat", b"lon", b"height")),
    "points": Target(feed_points, fuzzseeds.list_tables, (b"easting", b"northing", b";", b"\t")),
    "boundary": Target(
        feed_boundary,
        fuzzseeds.list_outlines,
        tuple(_JSON_WORDS.split()),
        reshape=reshape_json,
    ),
    "specification": Target(
        feed_specification,
        list_specifications,
        tuple(_TOML_WORDS.split()),
        reshape=reshape_toml,
    ),
    "form": Target(
        feed_form, fuzzseeds.list_forms, tuple(_TOML_WORDS.split()), reshape=reshape_toml
    ),
    "settings": Target(feed_settings, fuzzseeds.list_settings, (b"<!ENTITY", b"&a", b"*a", b"---")),
    "seal": Target(feed_seal, fuzzseeds.list_seals, ("\u2014".encode(), b"\n\n", b"+")),
    "receipt": Target(
        feed_receipt,
        fuzzseeds.list_receipts,
        tuple(_JSON_WORDS.split()),
        reshape=reshape_json,
    ),
    "book": Target(feed_book, fuzzseeds.list_books, command=True, reshape=reshape_book),
    "entries": Target(
        feed_entries,
        fuzzseeds.list_journals,
        tuple(_JSON_WORDS.split()),
        command=True,
        reshape=reshape_journal,
    ),
    "job": Target(feed_job, list_real("*.las", "*.??[oO]", "*.tif"), command=True),
    "wish": Target(
        feed_wish,
        lambda: [fuzzseeds.make_specification()],
        tuple(_TOML_WORDS.split()),
        command=True,
        reshape=reshape_toml,
    ),
    "scratch": Target(feed_scratch, fuzzseeds.list_scratch, command=True, reshape=reshape_json),
}
