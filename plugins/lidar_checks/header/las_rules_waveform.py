"""Rules on waveforms. Points are whole without them, so a breach is an observation.

Source: ASPRS LAS 1.4 R15, global encoding bits 1 and 2, waveform packet descriptor.
"""

from __future__ import annotations

from pathlib import PurePosixPath

from ledger.model.finding import Grade
from lidar_checks.header.las_rule import LAS, SPECIFICATION, HeaderCase, LasRule

_FORMATS = (4, 5, 9, 10)
_DESCRIPTORS = tuple(range(100, 355))
_REMEDY = "If waveforms are part of the delivery, export again with them; else in a format without."


def _has_waveforms(case: HeaderCase) -> bool:
    return case.header.point_format in _FORMATS


def _find_no_descriptor(case: HeaderCase) -> str:
    if not _has_waveforms(case) or case.list_sizes(SPECIFICATION, *_DESCRIPTORS):
        return ""
    return f"point format {case.header.point_format} has waveforms, and no record describes them"


def _find_no_place(case: HeaderCase) -> str:
    if not _has_waveforms(case) or case.has_bit(1) or case.has_bit(2):
        return ""
    return "neither bit 1 nor bit 2 says where its waveforms are"


def _find_two_places(case: HeaderCase) -> str:
    if case.minor < 3 or not (case.has_bit(1) and case.has_bit(2)):
        return ""
    return "bit 1 says that waveforms are in the file, bit 2 that they are beside it"


def _find_no_companion(case: HeaderCase) -> str:
    if case.minor < 3 or not case.has_bit(2) or not _has_waveforms(case):
        return ""
    name = PurePosixPath(case.file.path).with_suffix(".wdp")
    if str(name).casefold() in case.companions:
        return ""
    return f"its waveforms are stated to be in {name.name}, which is not delivered"


def _find_no_packets(case: HeaderCase) -> str:
    header = case.header
    if case.minor < 3 or not case.has_bit(1) or case.has_bit(2) or not _has_waveforms(case):
        return ""
    if header.offset_to_points < header.waveform_start < header.file_size:
        return ""
    return f"its waveforms are stated to begin at byte {header.waveform_start:,}, not in the file"


def _find_needless(case: HeaderCase) -> str:
    if case.minor < 3 or _has_waveforms(case) or not (case.has_bit(1) or case.has_bit(2)):
        return ""
    return f"it says that it has waveforms, which point format {case.header.point_format} has not"


RULES = (
    LasRule(
        "LAS-60",
        f"{LAS}, waveform packet descriptor",
        Grade.OBSERVATION,
        _find_no_descriptor,
        _REMEDY,
    ),
    LasRule(
        "LAS-61",
        f"{LAS}, global encoding, bits 1 and 2",
        Grade.OBSERVATION,
        _find_no_place,
        _REMEDY,
    ),
    LasRule(
        "LAS-62",
        f"{LAS}, global encoding, bits 1 and 2",
        Grade.OBSERVATION,
        _find_two_places,
        _REMEDY,
    ),
    LasRule(
        "LAS-63",
        f"{LAS}, global encoding, bit 2",
        Grade.OBSERVATION,
        _find_no_companion,
        _REMEDY,
        is_of_one_file=True,
    ),
    LasRule(
        "LAS-64",
        f"{LAS}, public header block, start of waveform data packet record",
        Grade.OBSERVATION,
        _find_no_packets,
        _REMEDY,
        is_of_one_file=True,
    ),
    LasRule(
        "LAS-65",
        f"{LAS}, global encoding, bits 1 and 2",
        Grade.OBSERVATION,
        _find_needless,
        _REMEDY,
    ),
)
