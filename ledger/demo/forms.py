"""What the person of the made-up job writes by hand: job.toml and the record forms."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from string import Template

REFERENCE = "QM-0412"
TITLE = "Quillmarsh borrow pit, monthly pickup 3"

_RIG = """\
[rig]
scanner_serial = "SU-07"
aircraft_serial = "AC-03"
base_serial = "BR-2"
lever_arm_aircraft = "0.112 0.004 0.231"
lever_arm_convention = "forward-right-down"
bracket = "B-1"
lever_arm_measured = "2026-04-02"
calibration_date = "2026-01-15"
calibration_serial = "SU-07"
"""

_FLIGHT = """\
[flight]
rig = "G1"
platform = "drone"
mount_mode = "drone"
orientation = "inverted"
position_source = "aircraft receiver"
scanner_antenna_fitted = "no"
scanner_serial = "SU-07"
height_type = "ellipsoidal"
frame = "NAD83(2011)"
epoch = "2010.0"
base_mark = "QM1"
base_method = "published"
base_height = "1.523"
base_height_again = "1.524"
base_height_kind = "vertical"
base_kind = "own base"
takeoff = "2026-05-12T14:00:00Z"
landing = "2026-05-12T14:18:00Z"
lines = "8"
cross_lines = "1"
line_spacing = "35"
height_above_ground = "45"
speed = "5"
wind = "4 m/s from the west"
scanner_time_scale = "GPS"
log_time_scale = "UTC"
"""

_RUN = """\
[run]
software = "demo-proc"
version = "4.1.0"
mount_mode = "drone"
orientation = "inverted"
position_source = "aircraft receiver"
lever_arm = "0.112 0.004 0.231"
lever_arm_from = "aircraft antenna"
lever_arm_convention = "forward-right-down"
crs = "EPSG:6346"
frame = "NAD83(2011)"
epoch = "2010.0"
zone = "17N"
unit_horizontal = "metre"
unit_vertical = "metre"
input_height_type = "ellipsoidal"
control_used = "no"
range_max = "90"
scan_angle_max = "50"
scale_basis = "grid"
thinning = "none"
leap_seconds = "18"
"""

_REJECTED = """\
output_height_type = "ellipsoidal"
geoid_name = "none"
geoid_applications = "0"
decision = "rejected"
reason = "heights were left ellipsoidal"
"""

_ACCEPTED = """\
output_height_type = "orthometric"
vertical_datum = "NAVD88"
geoid_name = "demo-geoid-A"
geoid_version = "1"
geoid_file = "geoid/demo-geoid-A.tif"
geoid_frame = "NAD83(2011)"
geoid_applications = "1"
decision = "accepted"
reason = "heights orthometric, surface fits the checkpoints"
"""

REPORT_DRAFT = """\
# Quillmarsh borrow pit, pickup 3: report draft

Vertical accuracy of the surface: RMSEz 0.019 m, n = 15.
"""
REPORT = """\
# Quillmarsh borrow pit, pickup 3: report draft

Vertical accuracy of the surface: RMSEz 0.023 m, n = 14.
"""


def write_specification(path: Path) -> None:
    """Write what the client asks for, as job.toml."""
    text = files("ledger.demo").joinpath("specification.toml").read_text(encoding="ascii")
    filled = Template(text).substitute(reference=REFERENCE, title=TITLE)
    path.write_text(filled, encoding="ascii", newline="\n")


def write_forms(folder: Path) -> None:
    """Write the filled-in forms of rig, flight and both runs."""
    folder.mkdir(parents=True, exist_ok=True)
    forms = {
        "rig": _RIG,
        "flight": _FLIGHT,
        "R1": _RUN + _REJECTED,
        "R2": _RUN + _ACCEPTED,
    }
    for name, text in forms.items():
        (folder / f"{name}.toml").write_text(text, encoding="ascii", newline="\n")
