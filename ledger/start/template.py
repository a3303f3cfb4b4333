"""The text of a new `job.toml`: every key with a plain remark, blanks as remarks.

It is valid as written, and taking the `#` away before any key leaves it valid. A key that neither a
command nor a check of ours reads says so beside it. Tests hold all three.
"""

from __future__ import annotations

import tomlkit

_HEAD = """\
# What the deliverable of this job has to meet.
#
# A line that begins with # is a remark, or a key left blank with an example behind it: take the #
# away and write the value. A blank is allowed; an audit lists the checks that it switches off.
# Beside some keys stands "not read yet": no check that comes with this version tests what they
# say, and an audit lists those that you fill in, so that you look at them yourself.

# carried = []                      # keys taken over from another job; delete a name to confirm it

[job]
"""

_JOB = (
    ("reference", "QM-0412", "the client's number or name for the job"),
    ("title", "Borrow pit, monthly pickup", "what it is, in a few words"),
    ("site", "Quillmarsh", "where it is"),
    ("client", "Quillmarsh Aggregates", "who asked for it: an organisation, not a person"),
)

_REST = """\

[folders]
raw = "raw"                         # raw data, as it came off scanner, aircraft and base
out = "out"                         # what the processing program writes
copies = 2                          # good copies that clear the card

[coordinates]
# horizontal = "EPSG:6346"          # coordinate system: an EPSG code or WKT
# vertical = "orthometric"          # heights: orthometric, ellipsoidal or site
# vertical_crs = "EPSG:5703"        # system of the heights: an EPSG code or WKT
# geoid = { name = "geoid model", version = "1", file = "geoid/grid.tif" }   # as agreed
# unit = { horizontal = "metre", vertical = "metre" }
#                                   # metre, us-survey-foot or international-foot
# epoch = 2010.0                    # epoch of the coordinates, in years
# scale_basis = "grid"              # lengths on the grid, or on the ground
# combined_factor = 0.9996          # grid length divided by ground length

[delivery]
# items = ["tiles", "dtm"]          # what has to be in the folder that is sent
# tile_size_m = 100                 # side of a tile, metres
# tile_buffer_m = 5                 # how far each tile reaches round that, as agreed
# boundary = "site.geojson"         # outline of the site: polygons in GeoJSON or WKT
# boundary_crs = "EPSG:6346"        # its system; blank: GeoJSON is longitude and latitude,
#                                   # WKT is in the system above

[criteria]
# profile = "name-of-a-profile"     # published criteria that fill in what is left out here
#
# One section for each check that has to be passed, named after it; the command "swathbook checks"
# lists the checks with their criteria, and the keys above that each of them reads:
#
#   [criteria.name-of-a-check]
#   name_of_a_criterion = 0.05

[checks]
# off = { name-of-a-check = "why" } # checks that do not apply here, each with its reason
"""

_COLUMN = 36


def write_template(reference: str = "", title: str = "") -> str:
    """Return the text of `job.toml` for a job of which only these two are known."""
    given = {"reference": reference, "title": title}
    lines = [
        _write_line(name, given.get(name, ""), example, remark) for name, example, remark in _JOB
    ]
    return _HEAD + "".join(lines) + _REST


def _write_line(name: str, value: str, example: str, remark: str) -> str:
    mark = "" if value else "# "
    assignment = f"{mark}{name} = {tomlkit.item(value or example).as_string()}"
    return f"{assignment:<{_COLUMN - 1}} # {remark}\n"
