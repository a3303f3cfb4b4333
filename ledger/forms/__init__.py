"""Forms of every kind of record: answers read by type, asked, or taken from a file."""

from ledger.forms.answers import FileFinder, parse_answer
from ledger.forms.asking import ONCE_ONLY, Interview
from ledger.forms.blank import print_blank
from ledger.forms.formfile import find_field, parse_settings, parse_values, read_form
from ledger.forms.unfinished import Unfinished
from ledger.forms.wording import ARROWS
from ledger.model.known import show_value
from ledger.walk import read_dropped_path

__all__ = [
    "ARROWS",
    "ONCE_ONLY",
    "FileFinder",
    "Interview",
    "Unfinished",
    "find_field",
    "parse_answer",
    "parse_settings",
    "parse_values",
    "print_blank",
    "read_dropped_path",
    "read_form",
    "show_value",
]
