"""Fixtures of consistent records, of which tests spoil one value."""

from __future__ import annotations

from made_records import assumed, one_run, records

__all__ = ["assumed", "one_run", "records"]
