"""For authors of checks: tiny surveys with one fault each, and the laws that every tally must keep.

Nothing in the core imports this package.
"""

from ledger.model.known import KnownBy
from ledger.testing.books import BookBuilder, known, make_fingerprint
from ledger.testing.checkpoints import (
    TABLE_SPECIFICATION,
    make_point,
    make_table,
    spread_points,
)
from ledger.testing.chunks import METRES, cut, join, make_chunk, restrict, shuffle, take
from ledger.testing.driver import drive_check, fill_tally, make_evidence, make_file
from ledger.testing.laws import check_tally_laws, find_difference
from ledger.testing.layout import Layout
from ledger.testing.running import run_check
from ledger.testing.scene import Scene
from ledger.testing.survey import SurveyBuilder

__all__ = [
    "METRES",
    "TABLE_SPECIFICATION",
    "BookBuilder",
    "KnownBy",
    "Layout",
    "Scene",
    "SurveyBuilder",
    "check_tally_laws",
    "cut",
    "drive_check",
    "fill_tally",
    "find_difference",
    "join",
    "known",
    "make_chunk",
    "make_evidence",
    "make_file",
    "make_fingerprint",
    "make_point",
    "make_table",
    "restrict",
    "run_check",
    "shuffle",
    "spread_points",
    "take",
]
