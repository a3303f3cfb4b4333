"""The builder of books, under the name that tests of this folder know it by."""

from __future__ import annotations

from ledger.testing.books import BookBuilder as MadeBook
from ledger.testing.books import known, make_fingerprint

__all__ = ["MadeBook", "known", "make_fingerprint"]
