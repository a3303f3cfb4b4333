"""Which checks an audit runs, and with which criteria, settled before any file is read.

A value of `job.toml` counts before one of the profile, and that before the check's own default.
Faults are added to those of the file, so that a person gets all of them in one go.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from ledger.audit.applied import apply_criteria
from ledger.audit.profiles import PROFILE_KEY, NamedProfile, find_profile
from ledger.canonical import encode, make_decimals
from ledger.contract.check import Check, Criteria, PointCheck
from ledger.contract.enabled import EnabledCheck
from ledger.contract.guard import Guard
from ledger.contract.needs import list_specification_keys
from ledger.contract.profile import Clause, Profile
from ledger.contract.registry import RegisteredCheck, Registry
from ledger.dataclass import dataclass
from ledger.errors import ContractError
from ledger.model.audit import AUDIT_ITSELF, CheckFacts, Criterion, PluginFault, Source
from ledger.model.document import AppliedProfile
from ledger.model.phrases import find_nearest
from ledger.model.specification import Specification
from ledger.specfile.faults import NAME, FaultList
from ledger.specfile.wording import explain_validation

ALWAYS = "always"


@dataclass(frozen=True)
class Settled:
    """What an audit runs.

    Args:
        enabled: the checks, with their criteria.
        facts: every installed check, those switched off included.
        absent: ids that `job.toml` or the profile asks for, with the reason why nothing answers
            to them; only where a plugin could not be used.
        faults: plugin faults that came to light while criteria were settled.
        profile: the profile that `job.toml` names, as it was found; None for none.
        profile_content: the bytes of its file; empty where it has none.
    """

    enabled: tuple[EnabledCheck, ...]
    facts: tuple[CheckFacts, ...]
    absent: Mapping[str, str]
    faults: tuple[PluginFault, ...]
    profile: AppliedProfile | None = None
    profile_content: bytes = b""

    @property
    def required(self) -> frozenset[str]:
        """Return the ids of the checks that may not be left open."""
        named = {each.id for each in self.facts if each.required and not each.switched_off}
        return frozenset({AUDIT_ITSELF, *self.absent, *named})


def settle_checks(
    registry: Registry,
    specification: Specification,
    faults: FaultList,
    guard: Guard | None = None,
    home: Path | None = None,
) -> Settled:
    """Decide which checks run, and validate their criteria.

    What is returned counts only where no fault was added.

    Args:
        registry: what is installed.
        specification: `job.toml` as read.
        faults: the faults of the file so far; those of `[criteria]` and `[checks]` are added.
        guard: calls the plugins' own models; None for one of its own.
        home: the job folder, which may hold a profile file; None for none.
    """
    return _Settling(registry, specification, faults, guard or Guard(), home).settle()


def _is_stated(place: tuple[int | str, ...], own: Mapping[str, Any]) -> bool:
    """Say whether a fault lies in what `job.toml` states; one of the whole section may."""
    return place[0] in own if place else bool(own)


class _Settling:
    """One settling: collects faults instead of stopping at the first."""

    def __init__(
        self,
        registry: Registry,
        specification: Specification,
        faults: FaultList,
        guard: Guard,
        home: Path | None,
    ) -> None:
        self._faults = faults
        self._guard = guard
        self._registry = registry
        self._specification = specification
        self._named = tuple(name for name in specification.criteria if name != PROFILE_KEY)
        self._own = {
            name: section
            for name, section in specification.criteria.items()
            if name != PROFILE_KEY and isinstance(section, Mapping)
        }
        self._off = specification.checks.off
        self._absent: dict[str, str] = {}
        self._plugin_faults: list[PluginFault] = []
        self._named_profile = self._find_profile(home)
        self._profile: Profile | None = (
            self._named_profile.profile if self._named_profile is not None else None
        )

    def settle(self) -> Settled:
        installed = {each.check.id: each for each in self._registry.checks}
        for name in self._named:
            self._require_known(name, installed, ("criteria", name))
        for name in self._off:
            self._require_known(name, installed, ("checks", "off", name))
        for name in self._profile.criteria if self._profile else ():
            if name not in installed:
                self._take_missing(name, installed)
        enabled, facts = [], []
        for each in self._registry.checks:
            settled = self._enable(each)
            reason = self._judge_off(each.check)
            facts.append(self._describe(each, settled, reason))
            if settled is not None and not reason:
                enabled.append(settled)
        named = self._named_profile
        return Settled(
            tuple(enabled),
            tuple(facts),
            self._absent,
            tuple(self._plugin_faults),
            named.describe(installed) if named else None,
            named.profile.content if named else b"",
        )

    def _find_profile(self, home: Path | None) -> NamedProfile | None:
        name = self._specification.criteria.get(PROFILE_KEY)
        if not isinstance(name, str):
            return None
        before = len(self._faults)
        found = find_profile(name, self._registry, self._faults, home)
        if found is None and len(self._faults) == before:
            self._absent[f"{PROFILE_KEY}:{name}"] = "a plugin that may hold it could not be used"
        return found

    def _take_missing(self, name: str, installed: Mapping[str, RegisteredCheck]) -> None:
        """Take in a check that the profile names and that is not there.

        A file that a person wrote is held to the names there are; what a plugin's profile asks for
        beside them is told as not tested, and lost only where a plugin could not be used.
        """
        if self._registry.faults:
            self._absent[name] = "the profile names it, and a plugin could not be used"
        elif self._named_profile is not None and self._named_profile.file:
            nearest = find_nearest(name, installed)
            self._faults.add(
                ("criteria", PROFILE_KEY),
                f"asks in {self._named_profile.file} for a check that is not installed",
                found=name,
                remedy=f"did you mean {nearest}?" if nearest else "take it out of that file",
            )

    def _require_known(
        self, name: str, installed: Mapping[str, RegisteredCheck], path: tuple[str, ...]
    ) -> None:
        if name in installed:
            return
        if self._registry.faults:
            self._absent.setdefault(name, "a plugin that may supply it could not be used")
            return
        nearest = find_nearest(name, installed)
        remedy = f"did you mean {nearest}?" if nearest else "swathbook checks lists those there are"
        self._faults.add(path, "is no check that is installed", remedy=remedy, about=NAME)

    def _judge_off(self, check: Check) -> str:
        """Return the reason why a check is switched off; empty when it is not."""
        reason = self._off.get(check.id)
        if reason is None:
            return ""
        path = ("checks", "off", check.id)
        required = self._find_requirement(check)
        if required:
            why = {
                ALWAYS: "it may never be left out: delete the line",
                str(Source.OWN): f"delete the line, or the section [criteria.{check.id}]",
                str(Source.PROFILE): "the profile asks for it: delete the line",
            }
            self._faults.add(
                path, "switches off a required check", remedy=why[required], about=NAME
            )
        return reason.strip()

    def _find_requirement(self, check: Check) -> str:
        if check.always_required:
            return ALWAYS
        if check.id in self._own:
            return str(Source.OWN)
        if self._profile is not None and self._profile.requires(check.id):
            return str(Source.PROFILE)
        return ""

    def _enable(self, each: RegisteredCheck) -> EnabledCheck | None:
        check = each.check
        own = self._own.get(check.id)
        clauses = self._profile.criteria.get(check.id, {}) if self._profile else {}
        given = {**{name: clause.value for name, clause in clauses.items()}, **(own or {})}
        criteria: Criteria | None = None
        applied: tuple[Criterion, ...] = ()
        with self._guard.call(each.plugin, f"check {check.id}, criteria") as attempt:
            criteria = self._validate(check, given, own)
            applied = apply_criteria(check.criteria, criteria, own or {}, clauses, self._profile)
            # What cannot be stored is found now, and not when an hour of reading is entered.
            encode([make_decimals(criterion.value) for criterion in applied])
        if attempt.fault:
            sentence = f"the criteria of check {check.id} cannot be used: {attempt.fault}"
            self._plugin_faults.append(PluginFault(each.plugin.name, each.plugin.version, sentence))
            return None
        return EnabledCheck(
            check, each.plugin, criteria, applied, self._find_carried(check, own, clauses)
        )

    def _validate(
        self, check: Check, given: Mapping[str, Any], own: Mapping[str, Any] | None
    ) -> Criteria | None:
        """Return the criteria; None where they are blank or wrong.

        Raises:
            ContractError: nobody wrote into `job.toml` what the model of the check refuses.
        """
        try:
            return check.criteria.model_validate_json(json.dumps(given))
        except ValidationError as error:
            told = error.errors(include_url=False)
            wrong = [each for each in told if each["type"] != "missing"]
            if wrong and not any(_is_stated(each["loc"], own or {}) for each in wrong):
                first = ".".join(map(str, wrong[0]["loc"])) or "its criteria together"
                if self._named_profile is not None and self._named_profile.file:
                    self._faults.add(
                        ("criteria", PROFILE_KEY),
                        f"gives check {check.id} what it cannot use, {first}",
                        found=wrong[0]["msg"],
                        remedy=f"swathbook checks lists the criteria; correct "
                        f"{self._named_profile.file}",
                    )
                    return None
                raise ContractError(
                    f"the model of the check refuses what is not from job.toml, {first}",
                    found=wrong[0]["msg"],
                ) from None
            if own is None and not wrong:
                return None
            explain_validation(error, self._faults, ("criteria", check.id), check.criteria)
            return None

    def _find_carried(
        self, check: Check, own: Mapping[str, Any] | None, clauses: Mapping[str, Clause]
    ) -> tuple[str, ...]:
        """Return the keys behind its criteria that were carried over and not confirmed."""
        keys = [f"criteria.{check.id}.{name}" for name in own or ()]
        if clauses.keys() - (own or {}).keys():
            keys.append(f"criteria.{PROFILE_KEY}")
        return tuple(key for key in keys if not self._specification.is_confirmed(key))

    def _describe(
        self, each: RegisteredCheck, settled: EnabledCheck | None, reason: str
    ) -> CheckFacts:
        check = each.check
        return CheckFacts(
            id=check.id,
            title=check.title,
            catalogue=check.catalogue,
            revision=check.revision,
            plugin=each.plugin,
            criteria=settled.applied if settled else (),
            required=self._find_requirement(check),
            reads_points=isinstance(check, PointCheck) or "points" in check.needs,
            needs=check.needs,
            fields=check.fields,
            specification_keys=list_specification_keys(check),
            switched_off=reason,
        )
