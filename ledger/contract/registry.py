"""Finding the plugins that are installed, and what they offer.

Invariants:

- Every call makes a fresh registry; nothing is loaded at import and nothing is kept.
- A plugin that does not load, misspells a hook or offers something unusable is a fact of the
  registry (`faults`), never an exception and never silence; the other plugins go on.
- Of two checks with one id the first by name of the entry point is kept, and the second is a fault.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import field, replace
from importlib.metadata import EntryPoint
from typing import Any

import pluggy

from ledger.contract import hookspecs
from ledger.contract.check import Check
from ledger.contract.guard import Guard, describe_exception
from ledger.contract.ordering import find_cycles
from ledger.contract.origin import (
    OWN_DISTRIBUTION,
    find_foreign_packages,
    identify_plugin,
    list_entry_points,
)
from ledger.contract.packages import compute_package_digest
from ledger.contract.profile import Profile
from ledger.contract.validity import require_check, require_profile
from ledger.dataclass import dataclass
from ledger.errors import ContractError
from ledger.model.audit import Plugin, PluginFault


@dataclass(frozen=True)
class RegisteredCheck:
    """A check and the plugin that supplies it."""

    check: Check
    plugin: Plugin


@dataclass(frozen=True)
class RegisteredProfile:
    """A profile and the plugin that supplies it."""

    profile: Profile
    plugin: Plugin


@dataclass(frozen=True)
class Registry:
    """All that the installed plugins offer.

    Args:
        checks: the usable checks, by id.
        profiles: the usable profiles, by id.
        faults: what could not be used.
        plugins: every plugin that was found, in the order of its entry point.
    """

    checks: tuple[RegisteredCheck, ...] = ()
    profiles: tuple[RegisteredProfile, ...] = ()
    faults: tuple[PluginFault, ...] = ()
    plugins: tuple[Plugin, ...] = ()


_Take = Callable[[object, Plugin, "_Collection"], None]


@dataclass
class _Collection:
    """What has been found so far, while the plugins are asked one by one."""

    guard: Guard
    hooks: tuple[tuple[str, _Take], ...]
    checks: dict[str, RegisteredCheck] = field(default_factory=dict)
    profiles: dict[str, RegisteredProfile] = field(default_factory=dict)
    faults: list[PluginFault] = field(default_factory=list)
    plugins: list[Plugin] = field(default_factory=list)

    def report(self, plugin: Plugin, sentence: str) -> None:
        self.faults.append(PluginFault(plugin.name, plugin.version, sentence))


def build_registry(guard: Guard | None = None, *, with_profiles: bool = True) -> Registry:
    """Load every plugin of the entry-point group and return what they offer.

    Args:
        guard: calls what plugins wrote; None for one of its own.
        with_profiles: ask for profiles too, whose files take as long to read as all the rest; a
            plugin that has some is then no less sound for not being asked.
    """
    hooks = pluggy.PluginManager(hookspecs.PROJECT)
    hooks.add_hookspecs(hookspecs)
    asked = (_CHECKS, _PROFILES) if with_profiles else (_CHECKS,)
    found = _Collection(guard if guard is not None else Guard(), asked)
    for entry_point in list_entry_points(found.faults):
        _take_plugin(hooks, entry_point, found)
    _report_foreign(found)
    _drop_cycles(found)
    return Registry(
        checks=tuple(found.checks[name] for name in sorted(found.checks)),
        profiles=tuple(found.profiles[name] for name in sorted(found.profiles)),
        faults=tuple(found.faults),
        plugins=tuple(found.plugins),
    )


def _take_plugin(hooks: pluggy.PluginManager, entry_point: EntryPoint, found: _Collection) -> None:
    plugin = identify_plugin(entry_point)
    place = len(found.plugins)
    found.plugins.append(plugin)
    if not plugin.module:
        found.report(plugin, f"its entry point names no module: {entry_point.value}")
        return
    with found.guard.call(plugin, "loading") as loading:
        loaded = entry_point.load()
        plugin = replace(plugin, digest=compute_package_digest(plugin.module))
        found.plugins[place] = plugin
    if loading.fault:
        found.report(plugin, f"it does not load: {loading.fault}")
        return
    with found.guard.call(plugin, "registering its hooks") as registering:
        name = hooks.register(loaded, name=f"{plugin.name}:{entry_point.name}")
        hooks.check_pending()
    if registering.fault:
        _forget(hooks, loaded, plugin, found)
        found.report(plugin, f"its hooks cannot be used: {registering.fault}")
        return
    _ask(hooks, str(name), plugin, found)


def _forget(
    hooks: pluggy.PluginManager, loaded: object, plugin: Plugin, found: _Collection
) -> None:
    """Take a plugin out again; one that never got in is no concern."""
    with found.guard.call(plugin, "taking it out"):
        hooks.unregister(loaded)


def _ask(hooks: pluggy.PluginManager, name: str, plugin: Plugin, found: _Collection) -> None:
    others = [each for other, each in hooks.list_name_plugin() if other != name and each]
    offered = 0
    for hook, take in found.hooks:
        caller = hooks.subset_hook_caller(hook, others)
        with found.guard.call(plugin, hook) as asking:
            for item in _flatten(caller()):
                offered += 1
                _take(take, item, plugin, found)
        if asking.fault:
            offered += 1
            found.report(plugin, f"{hook} failed: {asking.fault}")
    if not offered and not (_PROFILES not in found.hooks and _has_profiles(hooks, others)):
        found.report(plugin, "it offers neither checks nor profiles; @hookimpl may be missing")


def _has_profiles(hooks: pluggy.PluginManager, others: list[object]) -> bool:
    return bool(hooks.subset_hook_caller(_PROFILES[0], others).get_hookimpls())


def _flatten(answers: Iterable[Any]) -> Iterator[Any]:
    for answer in answers:
        if isinstance(answer, (str, bytes)) or not isinstance(answer, Iterable):
            raise ContractError("the hook answered no list", found=f"a {type(answer).__name__}")
        yield from answer


def _take(
    take: _Take,
    item: object,
    plugin: Plugin,
    found: _Collection,
) -> None:
    """Take one offered thing; what is wrong with it stays its own fault."""
    if isinstance(item, Exception):
        found.report(plugin, f"a part of it could not be made: {describe_exception(item)}")
        return
    try:
        take(item, plugin, found)
    except Exception as error:  # noqa: BLE001 - what is offered is plugin code too
        found.report(plugin, f"an offer cannot be used: {describe_exception(error)}")


def _take_check(item: object, plugin: Plugin, found: _Collection) -> None:
    check = require_check(item)
    first = found.checks.get(check.id)
    if first is not None:
        raise ContractError(f"there is already a check {check.id}", found=first.plugin.name)
    found.checks[check.id] = RegisteredCheck(check, plugin)


def _take_profile(item: object, plugin: Plugin, found: _Collection) -> None:
    profile = require_profile(item)
    first = found.profiles.get(profile.id)
    if first is not None:
        raise ContractError(f"there is already a profile {profile.id}", found=first.plugin.name)
    found.profiles[profile.id] = RegisteredProfile(profile, plugin)


_CHECKS = ("register_checks", _take_check)
_PROFILES = ("register_profiles", _take_profile)


def _report_foreign(found: _Collection) -> None:
    """Report packages of ours that came from somewhere else: they would speak in our name."""
    own = [plugin for plugin in found.plugins if plugin.name == OWN_DISTRIBUTION]
    version = own[0].version if own else ""
    packages = tuple(plugin.entry_point for plugin in own if plugin.digest)
    try:
        sentences = [
            f"the package {name} in use does not belong to {OWN_DISTRIBUTION}"
            for name in find_foreign_packages(packages)
        ]
    except Exception as error:  # noqa: BLE001 - an installer's own files may hold anything
        sentences = [describe_exception(error)]
    for sentence in sentences:
        found.faults.append(PluginFault(OWN_DISTRIBUTION, version, sentence))


def _drop_cycles(found: _Collection) -> None:
    waits = {name: each.check.after for name, each in found.checks.items()}
    for cycle in find_cycles(waits):
        for name in cycle:
            plugin = found.checks.pop(name).plugin
            sentence = f"check {name} waits for itself: {' after '.join((*cycle, cycle[0]))}"
            found.report(plugin, sentence)
