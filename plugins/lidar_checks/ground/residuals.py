"""What each surveyed point shows of the cloud: the shape that every check of the ground reads."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Residual:
    """One surveyed point and the cloud round it; metres, in the horizontal system of the job.

    Args:
        id: name of the point in its table.
        table: path of the table as the book writes it.
        kind: `control` or `checkpoints`.
        east_m, north_m, height_m: the point as surveyed, metres.
        dz: height of the cloud less that of the point, metres; None where there is no telling.
        reason: why there is no `dz`, as a clause ("4 points of the cloud within 0.5 m, fewer than
            10"); empty where there is one.
        dx, dy: the target as picked in the cloud less the point, metres; None without such columns.
        gradient: rise of the fitted surface to the east and to the north, metres a metre; None
            without a surface.
        roughness_m: root mean square of what the surface leaves over, metres.
        count: points of the cloud that the surface stands on.
        stratum: `nonvegetated`, `vegetated`, what the file says, or empty.
        sigma_vertical_m: standard deviation of the survey in height, metres.
        surveyed: when, ISO 8601; empty where the table does not say.
        files: delivered files with points near it, sorted.
        gps_times: first and last GPS time of those points, as stored; None without times.
        source_ids: their point source ids, sorted.
    """

    id: str
    table: str
    kind: str
    east_m: float
    north_m: float
    height_m: float
    dz: float | None = None
    reason: str = ""
    dx: float | None = None
    dy: float | None = None
    gradient: tuple[float, float] | None = None
    roughness_m: float | None = None
    count: int = 0
    stratum: str = ""
    sigma_vertical_m: float | None = None
    surveyed: str = ""
    files: tuple[str, ...] = ()
    gps_times: tuple[float, float] | None = None
    source_ids: tuple[int, ...] = ()
