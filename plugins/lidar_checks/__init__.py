"""Checks for drone lidar deliverables, found by the auditor exactly as a stranger's plugin is.

Nobody lists the checks: every concrete check in a module of this package is offered. Modules are
imported when the auditor asks, not when this package is.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Iterable, Iterator
from importlib import import_module
from inspect import isabstract

from ledger.contract.check import Check
from ledger.contract.hookspecs import hookimpl
from ledger.contract.profile import Profile
from lidar_checks.profiles.files import list_profiles


@hookimpl
def register_checks() -> Iterable[Check | Exception]:
    """Offer one object of every concrete check, and the fault of every module that fails."""
    faults = tuple(_import_modules())
    found = {check for check in _list_below(Check.__subclasses__()) if _is_offered(check)}
    return (*faults, *(check() for check in sorted(found, key=_name)))


@hookimpl
def register_profiles() -> Iterable[Profile | Exception]:
    """Offer every published profile, and the fault of every file that cannot be used."""
    return list_profiles()


def _import_modules() -> Iterator[Exception]:
    """Import every module of this package; yield what went wrong."""
    names = [__name__]
    while names:
        package = names.pop()
        try:
            module = import_module(package)
        except Exception as error:  # noqa: BLE001 - one broken module must not cost the others
            error.add_note(f"in module {package}")
            yield error
            continue
        paths = getattr(module, "__path__", None)
        if paths is not None:
            names.extend(f"{package}.{found.name}" for found in pkgutil.iter_modules(paths))


def _list_below(children: Iterable[type[Check]]) -> Iterator[type[Check]]:
    for child in children:
        yield child
        yield from _list_below(child.__subclasses__())


def _name(check: type[Check]) -> tuple[str, str, str]:
    return check.id, check.__module__, check.__qualname__


def _is_offered(check: type[Check]) -> bool:
    """Say whether a class is a check of this package, and no mere base of others."""
    ours = check.__module__.startswith(f"{__name__}.")
    return ours and not isabstract(check) and isinstance(getattr(check, "id", None), str)
