"""The folder holds what the specification says has to be in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Grade, Plan
from ledger.model.phrases import count_things, tell_carried
from lidar_checks.lineage.item_kinds import Found, find_item

_ITEMS = "delivery.items"
_SOURCE = "job.toml: delivery.items"
_NAMED = 3


class PackageItems(Check):
    """Looks for each item among the files, by what they are or by their names."""

    id = "package-items"
    title = "Everything that was ordered is in the folder"
    catalogue = ("RH-11",)
    needs = ("specification.delivery.items",)

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge every item."""
        for item in dict.fromkeys(evidence.specification.delivery.items):
            yield self._judge(item, find_item(item, evidence), evidence)

    def _judge(self, item: str, found: tuple[Found, ...] | None, evidence: Evidence) -> Finding:
        if found is None:
            return self.inconclusive(
                item,
                f"Whether {item} is in {evidence.folder} cannot be told: no file is called so, and "
                "nothing is known of such an item.",
                remedy="Look yourself, or name the file after the item",
                criterion_source=_SOURCE,
            )
        if not found:
            return self.nonconforming(
                Grade.MINOR,
                item,
                f"{item} was ordered, and none of {count_things(len(evidence.files), 'file')} in "
                f"{evidence.folder} is one.",
                observed="none",
                required=item,
                criterion_source=_SOURCE,
                remedy=f"Put {item} into {evidence.folder}, or let somebody accept that it is not "
                "sent",
            )
        named = ", ".join(each.path for each in found[:_NAMED])
        more = f" and {len(found) - _NAMED} more" if len(found) > _NAMED else ""
        by_name = "" if found[0].is_sure else ", told by its name"
        sentence = f"{item}: {named}{more}{by_name}"
        if not evidence.specification.is_confirmed(_ITEMS):
            doubt, remedy = tell_carried([_ITEMS])
            return self.inconclusive(item, f"{sentence}. {doubt}", remedy=remedy)
        return self.conforms(item, f"{sentence}.", required=item, criterion_source=_SOURCE)
