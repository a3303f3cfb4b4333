"""Where no checkpoint tells anything: tiles, strips, minutes.

An RMSE says nothing of a tile in which no checkpoint lies: a stale tile there leaves it as good as
it was. So these stand beside it, always.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import cast

from pydantic import Field

from ledger.contract.check import Criteria, Figure, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from ledger.model.timescale import WEEK_S, from_gps_s
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.ground.checkpoint_check import PRACTICE, TOPIC, CheckpointCheck, is_default
from lidar_checks.ground.flown import MINUTE_S
from lidar_checks.ground.sample import Sample

_MOST_NAMED = 12


class BlindAreasCriteria(Criteria):
    """How much may lie without a checkpoint."""

    tiles_share_max: float = Field(
        default=0.5, ge=0, le=1, description=f"tiles without a checkpoint; {PRACTICE}"
    )


class BlindAreas(CheckpointCheck):
    """Tiles, strips and minutes without a checkpoint."""

    id = "blind-areas"
    title = "What no checkpoint covers stands beside the accuracy"
    catalogue = ("CP-02",)
    criteria = BlindAreasCriteria

    def judge(self, plan: Plan, sample: Sample) -> Iterable[Finding | Figure]:
        """Tell which tiles, strips and minutes hold no independent checkpoint with a height."""
        tiles = [file.path for file in sample.evidence.point_files]
        seen = {path for each in sample.judged for path in each.files}
        blind = [path for path in tiles if path not in seen]
        told = tell_blind("tile", blind, len(tiles))
        yield _make_figure("tiles", told, blind, len(tiles))
        yield from _list_strips(sample)
        yield from _list_minutes(sample)
        asked = cast("BlindAreasCriteria", plan.criteria)
        share = len(blind) / len(tiles) if tiles else 1.0
        parts = {
            "observed": f"{share:.2f}",
            "required": f"at most {asked.tiles_share_max:g}",
            "unit": "share of the tiles",
            "criterion_source": name_sources(plan, "tiles_share_max"),
        }
        if share <= asked.tiles_share_max:
            yield self.conforms(WHOLE_DELIVERY, told, **parts)
            return
        yield self.nonconforming(
            Grade.OBSERVATION if is_default(plan, "tiles_share_max") else Grade.MINOR,
            WHOLE_DELIVERY,
            told,
            remedy="Survey points there, or say in the report which tiles were not tested.",
            **parts,
        )


def _list_strips(sample: Sample) -> Iterable[Figure]:
    """Yield the strips without a checkpoint, where strips are numbered at all."""
    flown = sorted(sample.flown.sources - {0})  # 0 says that nobody numbered them (LAS 1.4)
    if len(flown) < 2:
        return
    seen = {source for each in sample.judged for source in each.source_ids}
    blind = [str(source) for source in flown if source not in seen]
    told = tell_blind("strip", blind, len(flown), "by their point source ids")
    yield _make_figure("strips", told, blind, len(flown))


def _list_minutes(sample: Sample) -> Iterable[Figure]:
    """Yield the minutes without a checkpoint: in UTC where every file has adjusted times."""
    flown = sample.flown.minutes
    if not flown:  # no times, or none of a clock
        return
    seen = {minute for each in sample.judged for minute in each.minutes}
    blind = sorted(flown - seen)
    files = sample.evidence.point_files
    origins = {None if file.header is None else file.header.time_origin_s for file in files}
    origin = origins.pop() if len(origins) == 1 else None
    # Seconds of a week under the flag of adjusted times are no dates (gps-time-kind tells them).
    if origin is not None and min(flown) * MINUTE_S > WEEK_S:
        spans, what = [_name_utc(*span, origin) for span in _join_minutes(blind)], "UTC"
    else:
        spans = [_name_seconds(*span) for span in _join_minutes(blind)]
        what = "GPS seconds as stored"
    told = tell_blind("minute", spans, len(flown), what, len(blind))
    yield _make_figure("minutes", told, spans, len(flown), len(blind))


def _join_minutes(minutes: Sequence[int]) -> list[tuple[int, int]]:
    """Return minutes that follow each other as spans: begin and end in seconds as stored."""
    spans: list[list[int]] = []
    for minute in minutes:
        if spans and minute == spans[-1][1]:
            spans[-1][1] = minute + 1
        else:
            spans.append([minute, minute + 1])
    size = int(MINUTE_S)
    return [(first * size, last * size) for first, last in spans]


def _name_seconds(begin: int, end: int) -> str:
    return f"{begin} to {end}"


def _name_utc(begin: int, end: int, origin: float) -> str:
    first, last = (from_gps_s(seconds + origin) for seconds in (begin, end))
    return f"{first:%Y-%m-%d %H:%M:%S} to {last:%H:%M:%S}"


def tell_blind(
    thing: str, names: Sequence[str], total: int, what: str = "", number: int | None = None
) -> str:
    """Return which of some things no checkpoint covers, as a sentence.

    Args:
        thing: one of them.
        names: those without a checkpoint.
        total: how many there are.
        what: what the names are, where they do not say themselves.
        number: how many are without one, where a name stands for several.
    """
    count = len(names) if number is None else number
    if not count:
        return f"Every {thing} holds a checkpoint."
    more = len(names) - _MOST_NAMED
    listed = ", ".join(names[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
    verb, them = agree(count, "holds", "hold"), agree(count, "it", "them")
    return (
        f"{count} of {count_things(total, thing)} {verb} no checkpoint, and no accuracy is told of "
        f"{them}{f' ({what})' if what else ''}: {listed}."
    )


def _make_figure(
    things: str, told: str, names: Sequence[str], total: int, number: int | None = None
) -> Figure:
    count = len(names) if number is None else number
    return Figure(
        f"{things}-without-checkpoint",
        TOPIC,
        told,
        str(count),
        things,
        total,
        listed=tuple(names),
    )
