"""Surveyed points of the made-up site, and the settings of its two runs."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from ledger.demo import site

# Place and height of the accepted cloud above each checkpoint, metres. Invented.
CHECKPOINTS = (
    ("C01", 552031, 4272044, 0.019),
    ("C02", 552118, 4272027, -0.022),
    ("C03", 552212, 4272061, 0.038),
    ("C04", 552307, 4272038, 0.026),
    ("C05", 552421, 4272052, -0.006),
    ("C06", 552449, 4272150, 0.003),
    ("C07", 552352, 4272141, 0.010),
    ("C08", 552258, 4272166, -0.005),
    ("C09", 552149, 4272152, 0.018),
    ("C10", 552052, 4272171, 0.023),
    ("C11", 552067, 4272279, 0.018),
    ("C12", 552171, 4272262, 0.019),
    ("C13", 552276, 4272289, 0.030),
    ("C14", 552389, 4272271, 0.040),
)
# K3 lies 2 cm from C09: planted for a later check of independence.
CONTROL = (
    ("K1", 552020.000, 4272020.000),
    ("K2", 552460.000, 4272022.000),
    ("K3", 552149.014, 4272152.014),
    ("K4", 552018.000, 4272301.000),
)
_DECLARATION = (
    "# frame: NAD83(2011) epoch 2010.0; coordinate system: EPSG:6346",
    "# heights: orthometric, demo-geoid-A 1; unit: metre",
)


def write_points(folder: Path) -> None:
    """Write the checkpoint table and the control table."""
    folder.mkdir(parents=True, exist_ok=True)
    checks = [
        (name, float(east), float(north), _ground(east, north) - dz)
        for name, east, north, dz in CHECKPOINTS
    ]
    control = [(name, east, north, _ground(east, north)) for name, east, north in CONTROL]
    _write_table(folder / "checks.csv", checks)
    _write_table(folder / "control.csv", control)


def _ground(east: float, north: float) -> float:
    return float(site.compute_ground(np.array([float(east)]), np.array([float(north)]))[0])


def _write_table(path: Path, rows: list[tuple[str, float, float, float]]) -> None:
    lines = [*_DECLARATION, "id,easting,northing,height"]
    lines += [f"{name},{east:.3f},{north:.3f},{height:.3f}" for name, east, north, height in rows]
    path.write_text("\n".join(lines) + "\n", encoding="ascii", newline="\n")


def write_settings(folder: Path) -> None:
    """Write the settings that the made-up program left for each run."""
    folder.mkdir(parents=True, exist_ok=True)
    common = {
        "program": "demo-proc",
        "version": "4.1.0",
        "mount": "drone",
        "position_source": "aircraft",
        "lever_arm_m": [0.112, 0.004, 0.231],
        "range_gate_m": 90,
        "control": False,
    }
    for run, height in (("R1", "ellipsoidal"), ("R2", "orthometric:demo-geoid-A")):
        text = json.dumps({**common, "output_height": height}, indent=2)
        (folder / f"{run}.json").write_text(text + "\n", encoding="ascii", newline="\n")
