"""Forms of every kind of record: answers read by type, asked, or taken from a file."""

from ledger.forms.answers import FileFinder, parse_answer
from ledger.forms.asking import Interview
from ledger.forms.blank import print_blank
from ledger.forms.formfile import find_field, parse_settings, parse_values, read_form
from ledger.forms.occasion import ONCE_ONLY
from ledger.forms.offers import TYPED, Offer
from ledger.forms.sense import find_doubt, require_sense
from ledger.forms.unfinished import Unfinished
from ledger.forms.wording import ARROWS, AS_LAST_TIME
from ledger.model.known import show_value
from ledger.walk import read_dropped_path

__all__ = [
    "ARROWS",
    "AS_LAST_TIME",
    "ONCE_ONLY",
    "TYPED",
    "FileFinder",
    "Interview",
    "Offer",
    "Unfinished",
    "find_doubt",
    "find_field",
    "parse_answer",
    "parse_settings",
    "parse_values",
    "print_blank",
    "read_dropped_path",
    "read_form",
    "require_sense",
    "show_value",
]
