"""Conditions on the base, on clocks and on ground control."""

from __future__ import annotations

from lidar_checks.settings.conditions import Answer, Values, answer

# IERS Bulletin C 52: GPS time is 18 s ahead of UTC since 1 January 2017.
_GPS_AHEAD_S = 18
_SINCE = "2017-01-01"


def base_is_tied(values: Values) -> Answer:
    """Say whether the base is on a known position, or ground control ties the result."""
    if values.text("flight.base_method") != "averaged":
        return Answer.HOLDS
    used = values.by_key.get("run.control_used")
    return Answer.UNCLEAR if used is None else answer(used is True)


def antenna_as_logged(values: Values) -> Answer:
    """Say whether card and log have one height of the antenna; a log of 0 was never told one."""
    read, logged = values.number("base.antenna_height"), values.number("log.antenna_height")
    if read is None or logged is None:
        return Answer.UNCLEAR
    if abs(read - logged) <= values.limit("log_apart_max_m"):
        return Answer.HOLDS
    return Answer.UNCLEAR if logged == 0 else Answer.BROKEN


def time_scales_joined(values: Values) -> Answer:
    """Say whether two clocks run in one time scale, or the leap seconds between them are recorded.

    Local time and BeiDou time are unclear: by how much they are off is not on record.
    """
    scales = {values.text("flight.scanner_time_scale"), values.text("flight.log_time_scale")}
    if len(scales) == 1:
        return Answer.UNCLEAR if scales == {"local"} else Answer.HOLDS
    if scales != {"gps", "utc"}:
        return Answer.UNCLEAR
    leap = values.number("run.leap_seconds")
    if leap is None:
        return Answer.BROKEN
    if values.text("flight.takeoff") and values.text("flight.takeoff") < _SINCE:
        return Answer.UNCLEAR
    return answer(leap == _GPS_AHEAD_S)


def is_tied_or_checked(values: Values) -> Answer:
    """Say whether ground control was used, or there are checkpoints to see how well it lies."""
    if values.by_key.get("run.control_used") is True:
        return Answer.HOLDS
    return answer(int(values.by_key["job.checkpoint_tables"]) > 0)
