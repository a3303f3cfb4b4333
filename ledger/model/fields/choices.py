"""Answers and remarks that fields of several kinds of record share."""

from __future__ import annotations

MOUNT_MODES = ("drone", "hand", "pole", "backpack", "vehicle")
ORIENTATIONS = ("upright", "inverted", "tilted")
POSITION_SOURCES = ("aircraft receiver", "scanner receiver", "post-processed", "none")
HEIGHT_TYPES = ("ellipsoidal", "orthometric", "site")
LEVER_ARM_ORIGINS = ("aircraft antenna", "scanner antenna", "trajectory at scanner")
AXIS_CONVENTIONS = ("forward-right-down", "forward-left-up", "right-forward-up")
OWN_BASE = "own base"
SERVICES = ("network", "permanent station", "satellite service")
BASE_KINDS = (OWN_BASE, *SERVICES, "none")
BASE_METHODS = ("published", "post-processed", "tied", "averaged")
TIME_SCALES = ("UTC", "GPS", "BeiDou", "local")
# As in sentence GGA of NMEA 0183, or as programs that post-process often number solutions.
FIX_CODES = ("4 fixed, 5 float", "1 fixed, 2 float")
SCALE_BASES = ("grid", "ground")
THINNINGS = ("none", "spacing", "every nth", "smoothing", "other")
LINEAR_UNITS = ("metre", "us-survey-foot", "international-foot")
DECISIONS = ("accepted", "rejected", "undecided")
# Kinds of step that leave the place of every kept point as it was, and those that change it.
KEEPING_STEPS = (
    "cleaning",
    "classification",
    "tiling",
    "merging",
    "thinning",
    "surface model",
)
MOVING_STEPS = ("reprojection", "height change")
STEP_KINDS = (*KEEPING_STEPS, *MOVING_STEPS, "other")

ACCURACY_KINDS = ("vertical", "horizontal", "three-dimensional")
# 1.96 RMSE is the accuracy at 95 % of FGDC-STD-007.3-1998, for errors that are normal and free of
# bias; the percentile is that of absolute errors.
STATISTICS = (
    "RMSE",
    "1.96 RMSE",
    "mean",
    "standard deviation",
    "median",
    "95th percentile",
    "largest",
)
STRATA = ("all", "non-vegetated", "vegetated", "other")

AS_ON_LABEL = "as on its label"
AS_SHOWN = "as the program shows it"
NO_GEOID = "its name as the program shows it, or none where none was applied"
FRAME_EXAMPLES = "such as NAD83(2011) or ITRF2020"
ELLIPSOID_EXAMPLES = "such as GRS 80 or WGS 84"
OPERATION = "name or code of the operation as the program shows it, or none"
