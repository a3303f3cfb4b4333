"""What `checks` shows."""

from __future__ import annotations

import json
from typing import Annotated, Any, TypedDict

from rich.console import Group, RenderableType
from rich.padding import Padding

from ledger.canonical import make_decimals
from ledger.model.audit import CheckFacts, ChecksResult, Criterion, Plugin
from ledger.model.phrases import count_things
from ledger.report.audit_json import (
    CriterionJson,
    ProfileJson,
    describe_criteria,
    describe_profile,
)
from ledger.report.profile import show_profile
from ledger.report.screen import (
    BAD,
    QUIET,
    STRONG,
    format_digest,
    say,
    say_lines,
    title,
)
from ledger.report.unread import list_unread


class PluginJson(TypedDict):
    """A distribution that supplies checks."""

    name: Annotated[str, "its name"]
    version: Annotated[str, "its version"]
    digest: Annotated[str, "SHA-256 over names and contents of its files"]


class CheckJson(TypedDict):
    """One check."""

    id: Annotated[str, "permanent id"]
    title: Annotated[str, "as a surveyor would say it"]
    catalogue: Annotated[list[str], "ids of the catalogue of failures"]
    revision: Annotated[int, "raised when the same input may give another answer"]
    plugin: Annotated[str, "distribution that supplies it"]
    required: Annotated[str, "why it may not be left open; empty when it may"]
    reads_points: Annotated[bool, "whether points have to be read"]
    needs: Annotated[list[str], "inputs without which it says nothing"]
    specification_keys: Annotated[list[str], "keys of job.toml that it reads, its criteria apart"]
    switched_off: Annotated[str, "reason in job.toml; empty when it is on"]
    criteria: Annotated[list[CriterionJson], "its criteria"]


class ChecksJson(TypedDict):
    """What `checks --json` prints."""

    schema: Annotated[int, "1"]
    checks: Annotated[list[CheckJson], "every check installed"]
    plugins: Annotated[list[PluginJson], "what supplies them"]
    read_by_no_check: Annotated[list[str], "keys of job.toml that no check and no command reads"]
    plugin_faults: Annotated[list[str], "plugins that could not be used"]
    profile: Annotated[ProfileJson | None, "the profile that job.toml names; null for none"]
    profiles: Annotated[list[str], "ids of the profiles that are installed"]


def make_json(result: ChecksResult) -> ChecksJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "checks": [_describe(check) for check in result.checks],
        "plugins": [_describe_plugin(plugin) for plugin in result.plugins],
        "read_by_no_check": list(result.unread),
        "plugin_faults": [str(fault) for fault in result.faults],
        "profile": describe_profile(result.profile),
        "profiles": list(result.profiles),
    }


def _describe(check: CheckFacts) -> CheckJson:
    return {
        "id": check.id,
        "title": check.title,
        "catalogue": list(check.catalogue),
        "revision": check.revision,
        "plugin": check.plugin.name,
        "required": check.required,
        "reads_points": check.reads_points,
        "needs": list(check.needs),
        "specification_keys": list(check.specification_keys),
        "switched_off": check.switched_off,
        "criteria": describe_criteria(check),
    }


def _describe_plugin(plugin: Plugin) -> PluginJson:
    return {"name": plugin.name, "version": plugin.version, "digest": plugin.digest}


def make_screen(result: ChecksResult) -> RenderableType:
    """Return what a person reads."""
    parts: list[RenderableType] = [
        say(f"{count_things(len(result.checks), 'check')} installed.", STRONG)
    ]
    for check in result.checks:
        parts += _show(check)
    parts += show_profile(result.profile)
    parts += list_unread(result.unread)
    if result.profiles:
        parts.append(title("Profiles that job.toml may name"))
        parts.append(say_lines([", ".join(result.profiles)], indent=2))
    parts.append(title("Supplied by"))
    parts.append(
        say_lines(
            (_show_plugin(plugin) for plugin in result.plugins),
            indent=2,
        )
    )
    if result.faults:
        parts.append(title("Plugins that could not be used"))
        parts.append(say_lines((str(fault) for fault in result.faults), BAD, indent=2))
    return Group(*parts)


def _show_plugin(plugin: Plugin) -> str:
    if not plugin.digest:
        return f"{plugin}, files not known"
    return f"{plugin}, files {format_digest(plugin.digest)}"


def _show(check: CheckFacts) -> list[RenderableType]:
    notes = [check.plugin.name, *check.catalogue]
    if check.required:
        notes.append(f"required: {check.required}")
    if check.reads_points:
        notes.append("reads points")
    if check.switched_off:
        notes.append(f"switched off: {check.switched_off}")
    lines: list[RenderableType] = [say(" · ".join(notes), QUIET)]
    if check.specification_keys:
        lines.append(say(f"reads of job.toml: {', '.join(check.specification_keys)}", QUIET))
    lines += [say(_show_criterion(criterion)) for criterion in check.criteria]
    return [title(f"{check.id}  {check.title}"), Padding(Group(*lines), (0, 0, 0, 2), expand=False)]


def _show_criterion(criterion: Criterion) -> str:
    value = write_criterion(criterion.value)
    unit = f" {criterion.unit}" if criterion.unit and value else ""
    return f"{criterion.field} = {value or 'blank'}{unit}   ({criterion.origin})"


def write_criterion(value: Any) -> str:  # noqa: ANN401 - any plain value
    """Return the value of a criterion as `job.toml` writes it, text bare; empty for a blank."""
    plain = make_decimals(value)
    if plain is None or isinstance(plain, str):
        return plain or ""
    return json.dumps(plain, ensure_ascii=False)
