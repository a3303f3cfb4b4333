"""By which first bytes a kind of file is known, before anything that reads it is loaded."""

from __future__ import annotations

LAS_SIGNATURE = b"LASF"

# Sentences by which a log is known: those with a time, and those that come with them.
_NMEA_SENTENCES = ("GGA", "RMC", "GNS", "ZDA", "GLL", "GSA", "GSV", "VTG", "DTM")


def looks_like_las(start: bytes) -> bool:
    """Say whether a file that begins with these bytes claims to be LAS or LAZ."""
    return start[:4] == LAS_SIGNATURE


def looks_like_rinex(start: bytes) -> bool:
    """Say whether the first bytes of a file (uncompressed) are a RINEX or CRINEX header line."""
    first = start.split(b"\n", 1)[0].rstrip()
    return first.endswith((b"RINEX VERSION / TYPE", b"CRINEX VERS   / TYPE"))


def looks_like_nmea(start: bytes) -> bool:
    """Say whether the first bytes of a file hold an NMEA sentence."""
    for line in start.splitlines():
        body, star, checksum = line[line.rfind(b"$") + 1 :].strip().partition(b"*")
        known = body[2:5].decode("ascii", "replace") in _NMEA_SENTENCES
        if b"$" in line and star and known and len(checksum) >= 2:
            return True
    return False


def looks_like_tiff(start: bytes) -> bool:
    """Say whether the first bytes are those of a TIFF or BigTIFF."""
    return start[:4] in (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")
