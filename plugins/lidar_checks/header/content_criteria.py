"""What a customer may ask of the content of a LAS file; blank until somebody states it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from ledger.contract.check import Criteria

_BLANK = "blank: only the customer, or a document that the customer names, can state it"


class LasContentCriteria(Criteria):
    """What is wanted; each blank until somebody states it."""

    versions: tuple[str, ...] | None = Field(default=None, description=_BLANK)
    point_formats: tuple[int, ...] | None = Field(default=None, description=_BLANK)
    compressed: bool | None = Field(default=None, description=_BLANK)
    time_kind: Literal["adjusted-standard", "week-seconds"] | None = Field(
        default=None, description=_BLANK
    )
    wkt_versions: tuple[Literal["WKT1", "WKT2"], ...] | None = Field(
        default=None, description=_BLANK
    )
    one_crs_record: bool | None = Field(default=None, description=_BLANK)
    vertical_in_compound: bool | None = Field(default=None, description=_BLANK)
    geoid_in_vertical_name: bool | None = Field(default=None, description=_BLANK)
    single_line_wkt: bool | None = Field(default=None, description=_BLANK)
    forbidden_wkt_nodes: tuple[str, ...] | None = Field(default=None, description=_BLANK)
    same_unit: bool | None = Field(default=None, description=_BLANK)
    file_source_zero_for_tiles: bool | None = Field(default=None, description=_BLANK)
    system_identifier: bool | None = Field(default=None, description=_BLANK)
