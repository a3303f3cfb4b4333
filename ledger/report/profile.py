"""The document that a specification names, and what it asks for that nobody tests here."""

from __future__ import annotations

from rich.console import RenderableType

from ledger.model.document import AppliedProfile
from ledger.model.phrases import count_things
from ledger.report.screen import DOUBT, QUIET, format_digest, say, say_lines, title


def show_profile(profile: AppliedProfile | None) -> list[RenderableType]:
    """Return which document was applied and what of it is not tested; nothing for none."""
    if profile is None:
        return []
    source = f"file {profile.file}" if profile.file else profile.plugin
    named = f"Profile {profile.id}, {source}, digest {format_digest(profile.sha256)}"
    parts: list[RenderableType] = [title(profile.document), say(named, QUIET)]
    if profile.not_tested:
        count = count_things(len(profile.not_tested), "thing")
        parts.append(say(f"The document also asks for {count}: not tested here.", DOUBT))
        parts.append(say_lines((each.phrase for each in profile.not_tested), indent=2))
    return parts


def remind(profile: AppliedProfile | None) -> list[RenderableType]:
    """Return one line beside the verdict: how much of the document it does not cover."""
    if profile is None or not profile.not_tested:
        return []
    count = count_things(len(profile.not_tested), "thing")
    told = f"{profile.document} also asks for {count} not tested here, listed above."
    return [say(told, DOUBT)]
