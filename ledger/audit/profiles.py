"""The profile that a `job.toml` names: one that a plugin supplies, or a file in the job folder."""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping
from pathlib import Path

from ledger.contract.profile import Profile
from ledger.contract.registry import Registry
from ledger.contract.validity import require_profile
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.loading import load_part
from ledger.model.document import AppliedProfile, NotTested
from ledger.model.phrases import find_nearest, join_choices
from ledger.model.specification import Specification
from ledger.shortfile import read_short_file
from ledger.specfile.faults import FaultList
from ledger.specfile.wording import describe

PROFILE_KEY = "profile"
FILE_ENDING = ".toml"
_PATH = ("criteria", PROFILE_KEY)


@dataclass(frozen=True)
class NamedProfile:
    """A profile as it was found.

    Args:
        profile: the profile.
        plugin: name of the plugin that supplies it; empty for a file.
        file: the file in the job folder; empty for one of a plugin.
    """

    profile: Profile
    plugin: str = ""
    file: str = ""

    def describe(self, installed: Collection[str]) -> AppliedProfile:
        """Return what an audit tells of it.

        Args:
            installed: ids of the checks there are; one that the profile names beside them is
                told as not tested.
        """
        profile = self.profile
        missing = tuple(
            NotTested(f"criteria of a check {name}, which nothing installed supplies")
            for name in profile.criteria
            if name not in installed
        )
        return AppliedProfile(
            id=profile.id,
            title=profile.title,
            edition=profile.edition,
            sha256=profile.sha256,
            file=self.file,
            plugin=self.plugin,
            not_tested=(*profile.not_tested, *missing),
        )


def asks_installed(specification: Specification) -> bool:
    """Say whether a specification names a profile that a plugin has to supply."""
    name = specification.criteria.get(PROFILE_KEY)
    return isinstance(name, str) and not _is_file(name.partition("#")[0])


def _is_file(name: str) -> bool:
    return name.lower().endswith(FILE_ENDING)


def find_profile(
    name: str, registry: Registry, faults: FaultList, home: Path | None
) -> NamedProfile | None:
    """Return the profile of a name, or of a file in the job folder; None where there is none.

    A fault is added where nothing answers to the name, but for a name that a plugin may hold which
    could not be used.

    Args:
        name: an id; or a path below the job folder that ends in `.toml`, followed by `#` and a
            level where the file has several.
        registry: what is installed.
        faults: takes what is wrong.
        home: the job folder; None where there is none.
    """
    file, _, level = name.partition("#")
    if _is_file(file):
        fields = {each.check.id: each.check.criteria.model_fields for each in registry.checks}
        return _read_file((file, level), fields, faults, home)
    known = {each.profile.id: each for each in registry.profiles}
    if name in known:
        return NamedProfile(known[name].profile, known[name].plugin.name)
    if registry.faults:
        return None
    nearest = find_nearest(name, known)
    faults.add(
        _PATH,
        "is no profile that is installed",
        found=describe(name),
        expected=join_choices(known) if known and not nearest else "",
        remedy=f"did you mean {nearest}?" if nearest else "delete the line",
    )
    return None


def _read_file(
    named: tuple[str, str],
    fields: Mapping[str, Collection[str]],
    faults: FaultList,
    home: Path | None,
) -> NamedProfile | None:
    """Return one level of a file that is held to the criteria there are."""
    name, level = named
    place = Path(name)
    if home is None or place.is_absolute() or ".." in place.parts:
        faults.add(
            _PATH,
            "names a file outside the job folder",
            found=describe(name),
            expected="a path in the job folder",
            remedy="copy the file into it",
        )
        return None
    read = load_part("ledger.contract.profilefile", "read_profiles")
    try:
        content = read_short_file(Path(os.path.join(home, place)), "the profile file")  # noqa: PTH118
        found = tuple(require_profile(each) for each in read(content, name, fields))
    except SwathbookError as error:
        told = "; ".join(fault.sentence() for fault in error.faults)
        remedy = "put the file right, or name another profile"
        faults.add(_PATH, "names a profile file that cannot be used", found=told, remedy=remedy)
        return None
    chosen = [each for each in found if not level and len(found) == 1]
    chosen += [each for each in found if level and each.id.endswith(f"-{level}")]
    if len(chosen) == 1:
        return NamedProfile(chosen[0], file=name)
    names = [f"{name}#{each.id.rpartition('-')[2]}" for each in found]
    faults.add(
        _PATH,
        "does not name one level of the profile file",
        found=describe(level or name),
        expected=join_choices(names),
        remedy="write one of them",
    )
    return None
