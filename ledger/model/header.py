"""What the header of a LAS or LAZ file says, before any point is read."""

from __future__ import annotations

from dataclasses import field

from ledger.dataclass import dataclass
from ledger.model.copc import CopcInfo
from ledger.model.timescale import ADJUSTMENT_S

_OFFSET_UNIT_S = 1_000_000


@dataclass(frozen=True)
class VlrFacts:
    """One variable length record, without its payload.

    Args:
        user_id: 16 bytes as text, trailing NULs removed.
        record_id: record id.
        size: payload size, bytes.
        extended: whether it is an extended record (after the points).
    """

    user_id: str
    record_id: int
    size: int
    extended: bool = False


@dataclass(frozen=True)
class LasHeader:
    """Public header block and the records that matter, as stored.

    Source of names and offsets: ASPRS LAS 1.4 R15, public header block.

    Args:
        version: `1.4`.
        point_format: point data record format, without the compression bits.
        compressed: LAZ.
        copc: first VLR is a COPC info record.
        record_length: bytes of one point record.
        point_count: 64-bit count for LAS 1.4 and later, else the legacy count.
        legacy_count: legacy 32-bit count.
        by_return: counts by return, 15 long for LAS 1.4 and later, else 5.
        legacy_by_return: legacy counts by return, 5 long.
        scale: X, Y, Z scale.
        offset: X, Y, Z offset.
        minimum: X, Y, Z minimum.
        maximum: X, Y, Z maximum.
        global_encoding: 16 bits.
        file_source_id: file source id.
        system_identifier: text.
        generating_software: text.
        creation_day: day of year, 0 when not set.
        creation_year: year, 0 when not set.
        header_size: bytes.
        offset_to_points: bytes.
        file_size: bytes of the file.
        vlrs: variable length records, extended ones last.
        wkt: text of the WKT record; None when absent.
        geo_keys: GeoTIFF keys by id: int, float or text; None when there is no key directory.
        extra_dimensions: names of described extra bytes.
        missing_bytes: bytes by which the file is shorter than its header says, at least; 0 when it
            is not. Points may still be readable up to there.
        vlr_count: stated number of variable length records; `vlrs` holds those that were found.
        evlr_count: stated number of extended ones.
        evlr_start: stated offset of the first extended one, bytes; 0 for none.
        waveform_start: stated offset of the waveform packets, bytes; 0 for none.
        time_range: least and greatest GPS time as LAS 1.5 states them; None before it.
        time_offset: time offset of LAS 1.5, millions of seconds; 0 before it.
        wkt_terminated: the WKT text ends with a NUL; True without one.
        other_wkts: texts of further WKT records that differ from `wkt`.
        described_bytes: extra bytes of one point that records describe.
        points_fault: why the compressed points must not be given to a decoder; empty otherwise.
        notes: oddities met while reading, one sentence each.
        copc_info: what its COPC record says of its octree; None without one.
    """

    version: str
    point_format: int
    compressed: bool
    copc: bool
    record_length: int
    point_count: int
    legacy_count: int
    by_return: tuple[int, ...]
    legacy_by_return: tuple[int, ...]
    scale: tuple[float, float, float]
    offset: tuple[float, float, float]
    minimum: tuple[float, float, float]
    maximum: tuple[float, float, float]
    global_encoding: int
    file_source_id: int
    system_identifier: str
    generating_software: str
    creation_day: int
    creation_year: int
    header_size: int
    offset_to_points: int
    file_size: int
    vlrs: tuple[VlrFacts, ...] = ()
    wkt: str | None = None
    geo_keys: dict[int, int | float | str] | None = field(default=None, hash=False)
    extra_dimensions: tuple[str, ...] = ()
    missing_bytes: int = 0
    vlr_count: int = 0
    evlr_count: int = 0
    evlr_start: int = 0
    waveform_start: int = 0
    time_range: tuple[float, float] | None = None
    time_offset: int = 0
    wkt_terminated: bool = True
    other_wkts: tuple[str, ...] = ()
    described_bytes: int = 0
    points_fault: str = ""
    notes: tuple[str, ...] = ()
    copc_info: CopcInfo | None = None

    @property
    def has_points(self) -> bool:
        """Say whether any point is stated."""
        return self.point_count > 0

    @property
    def has_adjusted_time(self) -> bool:
        """Say whether the GPS time flag claims adjusted standard time (bit 0)."""
        return bool(self.global_encoding & 1)

    @property
    def time_origin_s(self) -> float | None:
        """Return the GPS second from which its times count; None for seconds of a week.

        ASPRS LAS 1.4 R15, global encoding bit 0: 10^9. LAS 1.5 R00, bit 6: 10^6 times the offset.
        """
        if not self.has_adjusted_time:
            return None
        if self.has_time_offset:
            return float(self.time_offset * _OFFSET_UNIT_S)
        return float(ADJUSTMENT_S)

    @property
    def has_time_offset(self) -> bool:
        """Say whether its times count from an offset of its own (bit 6; reserved before 1.5)."""
        return bool(self.global_encoding & 64) and int(self.version.rpartition(".")[2]) >= 5

    @property
    def has_wkt_flag(self) -> bool:
        """Say whether the file claims that its CRS is WKT (bit 4)."""
        return bool(self.global_encoding & 16)

    @property
    def has_gps_time(self) -> bool:
        """Say whether the point format carries GPS time."""
        return self.point_format not in (0, 2)
