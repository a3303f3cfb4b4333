"""The logs behind a delivery, from registered files and what is recorded of them.

What a base log says was read when it was registered; position logs and trajectories are read again,
where their bytes lie as they were entered. A log that is not there is told with the reason, never
left out in silence.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from ledger.errors import SwathbookError
from ledger.fieldlogs.clocks import name_rinex_scale, read_clock
from ledger.fixity import read_fixity
from ledger.loading import load_part
from ledger.model.artefact import FileRecord, Role
from ledger.model.fieldlogs import BaseLog, FieldLogs, Gap, LogFile, Three, Track
from ledger.model.filename import find_path
from ledger.model.georeferencing import Crs
from ledger.model.jobrecords import RawFile
from ledger.model.known import KnownValue
from ledger.model.process import Card, Process
from ledger.model.timescale import GPS_ORIGIN, to_gps_s

_TRACKS = (Role.FLIGHT_LOG, Role.TRAJECTORY)


def read_field_logs(
    job: Path,
    raw: Iterable[RawFile],
    flights: Iterable[Card],
    processes: Iterable[Process],
    crs: Crs | None,
) -> FieldLogs:
    """Return the logs of some flights, and the trajectories that runs wrote out.

    Args:
        job: the job folder, absolute.
        raw: registered files.
        flights: the flights behind a delivery.
        processes: the runs and steps behind it.
        crs: horizontal system of the job; None where it is blank.
    """
    cards = {card.id: card for card in flights}
    listed = sorted(raw, key=lambda each: (each.flight, each.file.path))
    bases = tuple(_make_base(each) for each in listed if each.file.role == Role.BASE_LOG)
    tracks = [
        _read_track(job, each.file, cards.get(each.flight), None, crs)
        for each in listed
        if each.file.role in _TRACKS
    ]
    seen = {track.file.sha256 for track in tracks}
    for process in processes:
        for file in _list_trajectories(process, seen):
            card = next((cards[u.flight] for u in process.inputs if u.flight in cards), None)
            tracks.append(_read_track(job, file, card, process, crs))
    return FieldLogs(bases, tuple(tracks))


def _list_trajectories(process: Process, seen: set[str]) -> Iterator[FileRecord]:
    for output in process.outputs:
        if output.file.role == Role.TRAJECTORY and output.file.sha256 not in seen:
            seen.add(output.file.sha256)
            yield output.file


def _make_base(raw: RawFile) -> BaseLog:
    facts = raw.file.facts
    scale = name_rinex_scale(_text(facts, "time_system"), _text(facts, "version"))
    begins = [_read_time(text, scale) for text in facts.get("gap_begins", ())]
    lengths = [_read_decimal(text) for text in facts.get("gap_seconds", ())]
    longest = _read_decimal(facts.get("longest_gap_s"))
    return BaseLog(
        file=LogFile(raw.file.path, raw.file.sha256, str(raw.file.role), raw.flight),
        marker=_text(facts, "marker"),
        receiver=_text(facts, "receiver"),
        antenna=_text(facts, "antenna"),
        position_m=_read_three(facts.get("position_m")),
        antenna_delta_m=_read_three(facts.get("antenna_delta_m")),
        scale=scale,
        header_s=_read_span(facts, "header_first", "header_last", scale),
        span_s=_read_span(facts, "first_epoch", "last_epoch", scale),
        epochs=facts.get("epochs"),
        interval_s=_read_decimal(facts.get("interval_s")),
        step_s=_read_decimal(facts.get("step_s")),
        missing=facts.get("missing"),
        gaps=tuple(
            Gap(begin, float(length))
            for begin, length in zip(begins, lengths, strict=False)
            if begin is not None and length is not None
        ),
        longest_gap_s=None if longest is None else float(longest),
        bad_lines=facts.get("bad_lines"),
        is_compact=facts.get("compact") is True,
    )


def _text(facts: Mapping[str, Any], name: str) -> str:
    return str(facts.get(name, ""))


def _read_decimal(text: Any) -> Decimal | None:  # noqa: ANN401 - a fact of the book
    try:
        number = Decimal(str(text).strip())
    except InvalidOperation:
        return None
    return number if number.is_finite() else None


def _read_three(texts: Any) -> Three | None:  # noqa: ANN401 - a fact of the book
    numbers = [_read_decimal(text) for text in texts or ()]
    if len(numbers) != 3 or numbers[0] is None or numbers[1] is None or numbers[2] is None:
        return None
    return numbers[0], numbers[1], numbers[2]


def _read_span(
    facts: Mapping[str, Any], first: str, last: str, scale: KnownValue | None
) -> tuple[float, float] | None:
    begin, end = (_read_time(facts.get(name, ""), scale) for name in (first, last))
    return None if begin is None or end is None or end < begin else (begin, end)


def _read_time(text: Any, scale: KnownValue | None) -> float | None:  # noqa: ANN401 - a fact
    try:
        moment = datetime.fromisoformat(str(text)).replace(tzinfo=UTC)
    except ValueError:
        return None
    shown = (moment - GPS_ORIGIN).total_seconds()
    clock = read_clock(shown, "moment", scale, None)
    return None if clock is None else shown + clock.add_s


def _read_track(
    job: Path, file: FileRecord, card: Card | None, run: Process | None, crs: Crs | None
) -> Track:
    source = LogFile(
        file.path,
        file.sha256,
        str(file.role),
        "" if card is None else card.id,
        "" if run is None else run.id,
    )
    kind = _find_kind(file)
    path = find_path(file.path, file.path_bytes, job)
    try:
        if read_fixity(path).sha256 != file.sha256:
            return Track(source, kind, fault="its bytes are not those that were registered")
        make = load_part("ledger.audit.tracks", "make_track")
        made: Track = make(kind, path, source, _find_told(file, card, run), crs)
    except SwathbookError as error:
        return Track(source, kind, fault=error.faults[0].what)
    return made


def _find_kind(file: FileRecord) -> str:
    if file.facts.get("sentences"):
        return "sentences"
    return "binary" if file.path.lower().endswith(".sbet") else "table"


def _find_told(file: FileRecord, card: Card | None, run: Process | None) -> dict[str, Any]:
    """Return what is recorded of a track: when it was flown, its clock, heights and system."""
    values = {} if card is None else card.values
    clock = "log_time_scale" if file.role == Role.FLIGHT_LOG else "scanner_time_scale"
    is_track = file.role != Role.FLIGHT_LOG
    own = {
        name: values.get(f"flight.track_{name}")
        for name in ("columns", "time_scale", "crs", "unit", "height_type", "fix_codes")
        if is_track
    }
    told: dict[str, Any] = {
        "around_s": _find_takeoff(values),
        "scale": own.get("time_scale") or values.get(f"flight.{clock}"),
        "height_type": own.get("height_type") or values.get("flight.height_type"),
        "crs": own.get("crs"),
        "columns": own.get("columns"),
        "unit": own.get("unit"),
        "codes": own.get("fix_codes"),
    }
    if run is not None:
        told["height_type"] = run.find_value("trajectory_height_type")
        told["crs"] = run.find_value("trajectory_crs") or told["crs"]
    return told


def _find_takeoff(values: Mapping[str, KnownValue]) -> float | None:
    known = values.get("flight.takeoff")
    if known is None:
        return None
    try:
        moment = datetime.fromisoformat(str(known.value))
    except ValueError:
        return None
    return to_gps_s(moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC))
