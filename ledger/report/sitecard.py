"""What `sitecard` shows: what is right here, then "if you see this, this is why", worst first."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.report.screen import DOUBT, QUIET, STRONG, make_table, say, say_lines, title
from ledger.sitecard import CAUTIONS, SEEN_FROM_M, Line, Part, SiteCard

_WHOLE_FROM_M = 1000.0
_FORMATS = {
    "m": "{:.3f} m",
    "m/km": "{:.3f} m in 1 km",
    "degree": "{:.4f}°",
    "ppm": "{:.1f} ppm",
    "s": "{:.0f} s",
    "": "{:.8f}",
}


class NumberJson(TypedDict):
    """One number of a line."""

    label: Annotated[str, "what it is of: height, east, easting, rotation …"]
    value: Annotated[float, "what a cloud shows less what is right; of a zone, its coordinate"]
    unit: Annotated[str, "m, m/km, degree, ppm or s"]


class SiteFactJson(TypedDict):
    """A number that is right here."""

    topic: Annotated[str, "stable name"]
    label: Annotated[str, "what it is"]
    value: Annotated[float, "the number"]
    unit: Annotated[str, "m, degree, s; empty for a ratio"]
    how: Annotated[str, "what it was computed from and with"]


class SiteLineJson(TypedDict):
    """If this number is seen, this is why."""

    topic: Annotated[str, "stable name of the cause"]
    numbers: Annotated[list[NumberJson], "what is seen"]
    size_m: Annotated[float, "how many metres that is; of what grows with distance, in one km"]
    can_be_seen: Annotated[bool, "whether it is large enough for checkpoints to show"]
    why: Annotated[str, "the cause"]
    how: Annotated[str, "what it was computed from and with"]


class MissingJson(TypedDict):
    """What cannot be told."""

    topic: Annotated[str, "stable name"]
    reason: Annotated[str, "what is missing by name"]


class SiteCardJson(TypedDict):
    """What `sitecard --json` prints."""

    schema: Annotated[int, "1"]
    job: Annotated[str, "reference of the job; empty outside a job"]
    longitude: Annotated[float, "degrees east"]
    latitude: Annotated[float, "degrees north"]
    height_m: Annotated[float | None, "height of the ground as given; null when not known"]
    date: Annotated[str, "day of the work"]
    known_from: Annotated[str, "what the place was taken from"]
    system: Annotated[str, "map system of the numbers; empty for none"]
    frame: Annotated[str, "frame in which the work has to be; empty for none"]
    zone: Annotated[str, "UTM zone of the place; empty where there is none"]
    easting_m: Annotated[float | None, "easting in that system, metres"]
    northing_m: Annotated[float | None, "northing"]
    facts: Annotated[list[SiteFactJson], "what is right here"]
    lines: Annotated[list[SiteLineJson], "worst first"]
    missing: Annotated[list[MissingJson], "what cannot be told"]
    notes: Annotated[list[str], "what has to be known about the place"]
    cautions: Annotated[list[str], "what holds for every card"]


def make_json(card: SiteCard) -> SiteCardJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "job": card.job,
        "longitude": card.place.lon,
        "latitude": card.place.lat,
        "height_m": card.place.height_m,
        "date": write_day(card),
        "known_from": card.known_from,
        "system": card.system,
        "frame": card.frame,
        "zone": card.zone,
        "easting_m": card.east_m,
        "northing_m": card.north_m,
        "facts": [
            {
                "topic": fact.topic,
                "label": fact.label,
                "value": fact.part.value,
                "unit": fact.part.unit,
                "how": fact.how,
            }
            for fact in card.facts
        ],
        "lines": [_describe_line(line) for line in card.lines],
        "missing": [{"topic": each.topic, "reason": each.reason} for each in card.missing],
        "notes": list(card.notes),
        "cautions": list(CAUTIONS),
    }


def _describe_line(line: Line) -> SiteLineJson:
    return {
        "topic": line.topic,
        "numbers": [
            {"label": part.label, "value": part.value, "unit": part.unit} for part in line.parts
        ],
        "size_m": line.size_m,
        "can_be_seen": line.can_be_seen,
        "why": line.why,
        "how": line.how,
    }


def make_screen(card: SiteCard) -> RenderableType:
    """Return what a person reads."""
    parts: list[RenderableType] = [say(write_title(card), STRONG), *map(say, list_places(card))]
    parts += [say(note, DOUBT) for note in card.notes]
    if card.facts:
        facts = make_table("right here", "", numbers=(1,))
        for fact in card.facts:
            facts.add_row(say(fact.label), say(write_part(fact.part)))
        parts += [title("Right here"), facts]
        facts.show_header = False
    seen, unseen = split_lines(card)
    parts += _say_lines("If you see this, this is why", seen)
    parts += _say_lines(write_unseen_title(), unseen)
    if card.missing:
        parts += [
            title("Not told"),
            say_lines((each.reason for each in card.missing), DOUBT, indent=2),
        ]
    parts += [title("Keep in mind"), say_lines(CAUTIONS, QUIET, indent=2)]
    return Group(*parts)


def _say_lines(heading: str, lines: Iterable[Line]) -> list[RenderableType]:
    table = make_table("", "")
    table.show_header = False
    for line in lines:
        table.add_row(say(write_numbers(line)), say(line.why))
    return [title(heading), table] if table.row_count else []


def write_title(card: SiteCard) -> str:
    """Return what the card is of: job, place and day."""
    place = card.place
    north = f"{abs(place.lat):.5f}° {'N' if place.lat >= 0 else 'S'}"
    east = f"{abs(place.lon):.5f}° {'E' if place.lon >= 0 else 'W'}"
    named = f"{card.job}: " if card.job else ""
    return f"Site card for {named}{north}, {east}, {write_day(card)}"


def write_day(card: SiteCard) -> str:
    """Return the day of a card as it is written: 2026-05-12."""
    return "" if card.place.date is None else card.place.date.isoformat()


def list_places(card: SiteCard) -> tuple[str, ...]:
    """Return what the place is called in maps, and what it was taken from."""
    told = []
    if card.east_m is not None and card.north_m is not None:
        told.append(f"{card.system}: E {card.east_m:,.1f} m, N {card.north_m:,.1f} m")
    zone = f", UTM zone {card.zone}" if card.zone else ""
    frame = f", frame {card.frame}" if card.frame else ""
    told.append(f"Place: {card.known_from}{zone}{frame}")
    return tuple(told)


def split_lines(card: SiteCard) -> tuple[list[Line], list[Line]]:
    """Return the lines that checkpoints can show here, and those that they cannot."""
    seen = [line for line in card.lines if line.can_be_seen]
    return seen, [line for line in card.lines if not line.can_be_seen]


def write_unseen_title() -> str:
    """Return the heading of what is too small."""
    return f"Too small here for checkpoints to show (under {SEEN_FROM_M * 100:.0f} cm)"


def write_numbers(line: Line) -> str:
    """Return the numbers of a line: `east -0.770 m, north +0.944 m`."""
    told = ", ".join(f"{part.label} {write_part(part)}" for part in line.parts)
    if line.parts[0].unit in ("degree", "ppm"):
        told += f" ({line.size_m:.2f} m in 1 km)"
    return told


def write_part(part: Part) -> str:
    """Return a number with its sign, where that means something, and its unit."""
    if part.unit == "m" and abs(part.value) >= _WHOLE_FROM_M:
        return f"{part.value:+,.1f} m" if part.signed else f"{part.value:,.1f} m"
    written = _FORMATS[part.unit].format(part.value)
    is_zero = not any(digit in "123456789" for digit in written.partition(" ")[0])
    if is_zero:
        return written.removeprefix("-")
    return f"+{written}" if part.signed and part.value > 0 and part.unit != "s" else written
