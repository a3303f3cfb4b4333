"""The document that a specification names, and what it asks for that nobody tests here."""

from __future__ import annotations

from rich.console import RenderableType

from ledger.model.document import AppliedProfile
from ledger.report.screen import DOUBT, QUIET, format_digest, say, say_lines, title


def show_profile(profile: AppliedProfile | None) -> list[RenderableType]:
    """Return which document was applied and what of it is not tested; nothing for none."""
    if profile is None:
        return []
    source = f"file {profile.file}" if profile.file else profile.plugin
    named = f"Profile {profile.id}, {source}, digest {format_digest(profile.sha256)}"
    parts: list[RenderableType] = [title(profile.document), say(named, QUIET)]
    if profile.not_tested:
        lines = (f"{each.sentence}." for each in profile.not_tested)
        parts.append(say_lines(lines, DOUBT, indent=2))
    return parts
