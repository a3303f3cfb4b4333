"""Which command would record what a trace found to be missing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ledger.model.fields import FIELDS
from ledger.model.typed import quote_path
from ledger.trace.nodes import ChainNode, Remedy

_CARDS = ("flight", "rig", "statement", "points")
# Most asked for later, first: with one of these in the example a person sees what is meant.
_NOT_SET = ("decision", "reason")


def list_remedies(
    chain: Iterable[ChainNode], missing: Iterable[str], path: str
) -> tuple[Remedy, ...]:
    """Return commands, what the chain lacks altogether first.

    Args:
        chain: the nodes.
        missing: keys without a value in the whole answer.
        path: of the file that was asked about; empty for none.
    """
    found = list(_list_links(tuple(chain), frozenset(missing), path))
    if "copies" in missing:
        why = "on each drive that holds a copy of the raw files: the same bytes are noted as one"
        found.append(Remedy("swathbook register FOLDER", why))
    return tuple(dict.fromkeys(found))


def _list_links(
    chain: tuple[ChainNode, ...], missing: frozenset[str], path: str
) -> Iterator[Remedy]:
    if "file.made_by" in missing and path:
        yield Remedy(f"swathbook record {quote_path(path)}", "which run or step made it")
    if "file.flight" in missing and path:
        command = f"swathbook register {quote_path(path)} --flight F1"
        yield Remedy(command, "the flight that it belongs to")
    for node in chain:
        if f"{node.kind}.inputs" in node.not_recorded and node.name != path:
            yield Remedy(
                "swathbook record OUTPUTS --input F1",
                f"{node.id} does not say what it used; a new record of its outputs can",
            )
        if "flight.files" in node.not_recorded:
            yield Remedy(f"swathbook register raw --flight {node.id}", "its raw files")
    for node in chain:
        remedy = _fill(node)
        if remedy is not None:
            yield remedy


def _fill(node: ChainNode) -> Remedy | None:
    """Return the command that fills in the blanks of a record."""
    blank = [FIELDS[key].name for key in node.not_recorded if key in FIELDS]
    blank = [name for name in blank if name not in _NOT_SET]
    if not blank:
        return None
    if node.kind in _CARDS:
        return Remedy(f"swathbook record {node.kind} {node.id}", "asks what is blank")
    why = f"fills in a blank of {node.id}"
    return Remedy(f'swathbook amend {node.id} --set {blank[0]}=… --reason "…"', why)
