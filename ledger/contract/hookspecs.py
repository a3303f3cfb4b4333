"""The two hooks by which a plugin joins in.

A plugin is a distribution with an entry point in the group `swathbook.checks` that names a module
(or object) with implementations of these hooks. Hooks only register; the runner calls the checks
itself, each guarded, so that one that breaks does not stop the others.

Hooks may gain arguments later; an implementation names only those it uses.
"""

from __future__ import annotations

from collections.abc import Iterable

import pluggy

from ledger.contract.check import Check
from ledger.contract.profile import Profile

PROJECT = "swathbook"

hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def register_checks() -> Iterable[Check | Exception]:
    """Offer checks.

    Returns:
        One object for each check; every implementation is asked, each plugin by itself. In
        place of a check that could not be made (its module does not import), the exception: it
        is reported, and the other checks of the plugin are kept.
    """
    raise NotImplementedError  # pragma: no cover - a specification is never called


@hookspec
def register_profiles() -> Iterable[Profile | Exception]:
    """Offer profiles: published criteria that fill what `job.toml` leaves out.

    Returns:
        One object for each edition of each document; every implementation is asked.
    """
    raise NotImplementedError  # pragma: no cover - a specification is never called
