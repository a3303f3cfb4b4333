"""Criteria: own value before profile before default, and all faults of them at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from enum import Enum
from typing import Any, Literal

import pytest
from pydantic import Field, field_validator

from ledger.audit.applied import make_plain
from ledger.audit.criteria import Settled, settle_checks
from ledger.canonical import make_decimals
from ledger.contract.check import Check, Criteria
from ledger.contract.profile import Clause, Profile
from ledger.contract.registry import RegisteredCheck, RegisteredProfile, Registry
from ledger.errors import SpecificationError
from ledger.model.audit import AUDIT_ITSELF, Plugin, PluginFault, Source
from ledger.specfile.reading import read_leniently

PLUGIN = Plugin("stranger", "4.2", "", "stranger")
FAULT = PluginFault("broken", "1", "it does not load")


class DensityLimits(Criteria):
    """Thresholds of a check of density."""

    min_pts_per_m2: float = Field(gt=0, description="only the customer can say it")
    cell_m: float = Field(default=1.0, gt=0, description="common practice, no source")
    counted: Literal["first-returns", "all"] = "first-returns"


class _Density(Check):
    id = "density"
    title = "Dense enough"
    criteria = DensityLimits

    def finish(self, *_: Any) -> Iterable[Any]:
        """Answer nothing."""
        return ()


class _Readable(_Density):
    id = "readable"
    criteria = Check.criteria  # type: ignore[assignment]
    always_required = True


PROFILE = Profile(
    "dense-2025-a",
    "Guideline for density",
    "edition 2025 rev. A",
    {"density": {"min_pts_per_m2": Clause(8.0, "table 2"), "cell_m": Clause(2.0, "clause 4")}},
)


def settle(
    text: str, *, faults: Iterable[PluginFault] = (), profiles: Iterable[Profile] = (PROFILE,)
) -> Settled:
    """Settle the two checks against a specification."""
    registry = Registry(
        tuple(RegisteredCheck(check, PLUGIN) for check in (_Density(), _Readable())),
        tuple(RegisteredProfile(profile, PLUGIN) for profile in profiles),
        tuple(faults),
        (PLUGIN,),
    )
    return settle_with(registry, text)


def settle_with(registry: Registry, text: str) -> Settled:
    """Settle what is installed against a specification."""
    reading = read_leniently(text.encode(), "job.toml")
    settled = settle_checks(registry, reading.specification, reading.faults)
    reading.faults.require_none()
    return settled


def find_applied(settled: Settled) -> dict[str, tuple[Any, Source, str]]:
    """Return value, source and basis of each criterion of the check of density."""
    facts = next(each for each in settled.facts if each.id == "density")
    return {each.field: (each.value, each.source, each.basis) for each in facts.criteria}


def explain(text: str, **parts: Any) -> str:
    """Return what is wrong with a specification."""
    with pytest.raises(SpecificationError) as caught:
        settle(text, **parts)
    return str(caught.value)


def test_own_value_beats_profile_beats_default() -> None:
    """Each criterion comes from the strongest source that states it, and says which."""
    applied = find_applied(
        settle('[criteria]\nprofile = "dense-2025-a"\n[criteria.density]\nmin_pts_per_m2 = 4.5\n')
    )
    assert applied == {
        "min_pts_per_m2": (4.5, Source.OWN, ""),
        "cell_m": (2.0, Source.PROFILE, "Guideline for density, edition 2025 rev. A, clause 4"),
        "counted": ("first-returns", Source.DEFAULT, "no source stated"),
    }


def test_a_default_is_used_and_said() -> None:
    """A criterion that nobody states is the default, with the source of the default."""
    applied = find_applied(settle("[criteria.density]\nmin_pts_per_m2 = 4\n"))
    assert applied["cell_m"] == (1.0, Source.DEFAULT, "common practice, no source")
    assert applied["min_pts_per_m2"] == (4.0, Source.OWN, "")


def test_a_criterion_that_nobody_states_is_blank() -> None:
    """Without section and default the check is enabled with a blank that it names."""
    (density, _) = settle("").enabled
    assert density.criteria is None
    assert density.blanks == ("criteria.density.min_pts_per_m2",)
    applied = find_applied(settle(""))
    assert applied["min_pts_per_m2"] == (None, Source.BLANK, "only the customer can say it")
    assert applied["cell_m"] == (1.0, Source.DEFAULT, "common practice, no source")


def test_a_section_that_leaves_it_out_is_a_fault() -> None:
    """A section that is there must state what has no default."""
    said = explain("[criteria.density]\ncell_m = 2.0\n")
    assert said.startswith("job.toml line 1: criteria.density.min_pts_per_m2 is missing")


def test_all_faults_come_at_once_with_their_lines() -> None:
    """Wrong values, unknown names, unknown checks and switches are reported together, in order."""
    said = explain(
        "[criteria.density]\n"
        'min_pts_per_m2 = "4"\n'
        "cell = 1.0\n"
        "[criteria.densty]\n"
        "x = 1\n"
        "[checks.off]\n"
        'readable = "no time"\n'
        'readible = "no time"\n'
    ).splitlines()
    assert [line.split(":")[0] for line in said] == [
        f"job.toml line {number}" for number in (2, 3, 4, 7, 8)
    ]
    assert "did you mean density?" in said[2]
    assert "switches off a required check" in said[3]
    assert "did you mean readable?" in said[4]


def test_an_unknown_check_may_belong_to_a_broken_plugin() -> None:
    """While a plugin could not be used, an unknown id is absent and required, not a fault."""
    settled = settle("[criteria.frogs]\nmin = 1\n", faults=[FAULT])
    assert "frogs" in settled.absent
    assert "frogs" in settled.required


def test_an_unknown_profile_is_a_fault_with_the_nearest_name() -> None:
    """A profile that nobody registered is named with the nearest one."""
    said = explain('[criteria]\nprofile = "dense-2025-b"\n')
    assert "did you mean dense-2025-a?" in said
    assert "line 2" in said
    settled = settle('[criteria]\nprofile = "dense-2025-b"\n', faults=[FAULT])
    assert "profile:dense-2025-b" in settled.required


def test_a_profile_may_name_a_check_that_is_not_there() -> None:
    """What a profile asks for and nothing supplies is told as not tested, and blocks nothing.

    It is lost only where a plugin that may supply it could not be used: then it is required.
    """
    wider = Profile("wide", "Wide", "1", {"frogs": {}})
    text = '[criteria]\nprofile = "wide"\n'
    settled = settle(text, profiles=[wider])
    assert "frogs" not in settled.required
    assert settled.profile is not None
    (told,) = settled.profile.not_tested
    assert told.phrase == "criteria of a check frogs, which nothing installed supplies"
    assert "frogs" in settle(text, profiles=[wider], faults=[FAULT]).required


def test_required_are_those_with_a_section_a_profile_or_by_themselves() -> None:
    """Each source of a requirement counts, and the audit itself is always required."""
    assert settle("").required == {"readable", AUDIT_ITSELF}
    own = settle("[criteria.density]\nmin_pts_per_m2 = 4\n")
    assert own.required == {"readable", "density", AUDIT_ITSELF}
    named = settle('[criteria]\nprofile = "dense-2025-a"\n')
    assert named.required == {"readable", "density", AUDIT_ITSELF}


def test_a_check_is_switched_off_with_its_reason() -> None:
    """A check that is switched off does not run, and its reason is kept."""
    settled = settle('[checks]\noff = { density = "one tile" }\n')
    assert [each.check.id for each in settled.enabled] == ["readable"]
    assert {f.id: f.switched_off for f in settled.facts} == {"density": "one tile", "readable": ""}


@pytest.mark.parametrize("reason", ["", "  "])
def test_a_check_is_not_switched_off_without_a_reason(reason: str) -> None:
    """An empty reason is a fault of job.toml."""
    assert "checks.off.density is empty" in explain(f"[checks.off]\ndensity = '{reason}'\n")


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("[checks.off]\nreadable = 'x'\n", "it may never be left out"),
        ("[checks.off]\ndensity = 'x'\n[criteria.density]\nmin_pts_per_m2=4\n", "or the section"),
        (
            "[checks.off]\ndensity = 'x'\n[criteria]\nprofile='dense-2025-a'\n",
            "profile asks for it",
        ),
    ],
)
def test_a_required_check_cannot_be_switched_off(text: str, part: str) -> None:
    """Whatever makes a check required, switching it off is a fault with the way out."""
    assert part in explain(text)


def test_a_profile_that_was_carried_over_is_known() -> None:
    """A profile that nobody confirmed is named for every check whose criteria come from it."""
    text = 'carried = ["criteria.profile"]\n[criteria]\nprofile = "dense-2025-a"\n'
    (density, readable) = settle(text).enabled
    assert density.unconfirmed == ("criteria.profile",)
    assert readable.unconfirmed == ()
    own = "[criteria.density]\nmin_pts_per_m2 = 4\ncell_m = 1.0\n"
    assert settle(text + own).enabled[0].unconfirmed == ()


def test_what_was_carried_over_is_known() -> None:
    """Criteria that were taken from another job and not confirmed are named."""
    text = 'carried = ["criteria.density"]\n[criteria.density]\nmin_pts_per_m2 = 4\n'
    (density, readable) = settle(text).enabled
    assert density.unconfirmed == ("criteria.density.min_pts_per_m2",)
    assert readable.unconfirmed == ()


def test_a_model_that_raises_is_a_fault_of_its_plugin() -> None:
    """Code of a criteria model is plugin code: it costs that check and nothing else."""

    class Wild(Criteria):
        limit_m: float = 1.0

        @field_validator("limit_m")
        @classmethod
        def look(cls, value: float) -> float:
            raise ZeroDivisionError(value)

    check = type("_Wild", (_Density,), {"id": "wild", "criteria": Wild})()
    registry = Registry((RegisteredCheck(check, PLUGIN), RegisteredCheck(_Readable(), PLUGIN)))
    text = "[criteria.wild]\nlimit_m = 2.0\n"
    settled = settle_with(registry, text)
    assert "ZeroDivisionError" in settled.faults[0].sentence
    assert [each.check.id for each in settled.enabled] == ["readable"]
    assert "wild" in settled.required


class _Colour(Enum):
    RED = "red"


def test_criteria_are_plain_and_stored_without_floats() -> None:
    """Numbers stay numbers for those who read them, and the book gets them as decimal text."""
    nested = make_plain(DensityLimits(min_pts_per_m2=0.1))
    assert nested == {"min_pts_per_m2": 0.1, "cell_m": 1.0, "counted": "first-returns"}
    assert make_decimals(nested) == {
        "min_pts_per_m2": "0.1",
        "cell_m": "1",
        "counted": "first-returns",
    }
    listed = make_plain((1, 2.50, True, None, "x"))
    assert listed == [1, 2.5, True, None, "x"]
    assert make_decimals(listed) == [1, "2.5", True, None, "x"]
    assert make_plain(frozenset({"b", "a"})) == ["a", "b"]
    assert make_decimals(make_plain({"k": Decimal("1.20")})) == {"k": "1.20"}
    assert make_plain(_Colour.RED) == "red"
    assert make_plain(dt.date(2026, 5, 14)) == "2026-05-14"
