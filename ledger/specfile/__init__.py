"""The specification file `job.toml`: read strictly, every fault at once, each with its line."""

from ledger.specfile.lines import locate
from ledger.specfile.reading import parse_specification, read_specification
from ledger.specfile.text import parse_toml
from ledger.specfile.wording import explain_validation

__all__ = [
    "explain_validation",
    "locate",
    "parse_specification",
    "parse_toml",
    "read_specification",
]
