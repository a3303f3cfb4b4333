"""The specification of a deliverable: the content of `job.toml`, read strictly.

Nothing here is optional by silence: an absent key is a blank, and a blank has a cost that the audit
lists. Reading text and finding the line of a fault is the work of `ledger.specfile`.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

LinearUnitName = Literal["metre", "us-survey-foot", "international-foot"]


class Strict(BaseModel):
    """Base of everything a person fills in: no unknown key, no silent conversion, no NaN."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class Job(Strict):
    """Who asked for what."""

    reference: str | None = None
    title: str | None = None
    site: str | None = None
    client: str | None = None


class Folders(Strict):
    """Where things lie in the job folder."""

    raw: str = "raw"
    out: str = "out"
    copies: int = Field(default=2, ge=1, le=9)


class Geoid(Strict):
    """The geoid model that turns ellipsoidal into orthometric heights."""

    name: str
    version: str | None = None
    file: str | None = None


class Units(Strict):
    """Linear units of the deliverable."""

    horizontal: LinearUnitName | None = None
    vertical: LinearUnitName | None = None


class Coordinates(Strict):
    """Where the deliverable has to be."""

    horizontal: str | None = None
    epoch: float | None = Field(default=None, ge=1900, le=2100)
    vertical: Literal["orthometric", "ellipsoidal", "site"] | None = None
    vertical_crs: str | None = None
    geoid: Geoid | None = None
    unit: Units = Units()
    scale_basis: Literal["grid", "ground"] | None = None
    combined_factor: float | None = Field(default=None, gt=0.9, lt=1.1)


class Delivery(Strict):
    """What has to be in the folder that is sent."""

    items: tuple[str, ...] = ()
    tile_size_m: float | None = Field(default=None, gt=0)
    tile_buffer_m: float | None = Field(default=None, ge=0)
    boundary: str | None = None
    boundary_crs: str | None = None


class Checks(Strict):
    """Checks that are switched off, each with its reason."""

    off: dict[str, str] = {}


class Specification(Strict):
    """All of `job.toml`.

    `criteria` holds the sections `[criteria.ID]` as written; each check's own model validates its
    section before any point is read.
    """

    carried: tuple[str, ...] = ()
    job: Job = Job()
    folders: Folders = Folders()
    coordinates: Coordinates = Coordinates()
    delivery: Delivery = Delivery()
    criteria: dict[str, Any] = {}
    checks: Checks = Checks()

    def is_confirmed(self, key: str) -> bool:
        """Say whether a check may pass on a key: it was not taken from the last job unconfirmed.

        Args:
            key: dotted key of `job.toml`, `coordinates.geoid`; a carried section covers its keys.
        """
        return not any(key == name or key.startswith(f"{name}.") for name in self.carried)
