"""What to type where a recorded value is missing, or nobody has confirmed it."""

from __future__ import annotations

from collections.abc import Iterable

from ledger.model.ids import read_id
from ledger.model.process import Process
from ledger.model.typed import quote_path
from lidar_checks.settings.operand import SPECIFICATION, Operand

# What a run or step that works on what others made has to say, so that these are known.
_SETTLING: dict[str, dict[str, tuple[str, ...]]] = {
    "heights": {
        "run": ("input_height_type", "output_height_type", "geoid_name"),
        "step": ("kind",),
    },
    "positions": {"run": ("frame",), "step": ("kind",)},
}
_CRITERIA = ("criteria.", f"{SPECIFICATION}criteria.")
# Records of the field come first: whoever was there forgets soonest.
_ORDER = ("flight", "rig", "run", "step")


def tell_how_to_complete(operands: Iterable[Operand], process: Process) -> str:
    """Return one sentence with the command for the first record that has to be completed.

    Args:
        operands: values that are missing or that nobody confirmed.
        process: the run or step that is judged.
    """
    listed = list(operands)
    for kind in _ORDER:
        for operand in listed:
            if operand.owner.startswith(f"{kind} "):
                return f"Record the {kind} that is named and not there (swathbook record {kind})"
            held = read_id(operand.owner)
            if held is not None and held.kind == kind:
                keys = [each.key for each in listed if each.owner == operand.owner]
                return f"Look it up ({write_command(held.name, kind, keys)})"
    for operand in listed:
        if operand.key.startswith(_CRITERIA):
            section, _, name = operand.key.removeprefix(SPECIFICATION).rpartition(".")
            return f"Write {name} under [{section}] in job.toml."
        if operand.key.startswith(SPECIFICATION):
            return _tell_wish(operand)
    return tell_to_name_flight(process)


def write_command(name: str, kind: str, keys: Iterable[str]) -> str:
    """Return the command that completes a record: a card is asked for, a run is amended.

    Args:
        name: id of the record.
        kind: `flight`, `rig`, `run` or `step`.
        keys: keys of the fields that are to be put in.
    """
    if kind in ("flight", "rig"):
        return f"swathbook record {kind} {name}"
    values = " ".join(f'--set {key.partition(".")[2]}="…"' for key in dict.fromkeys(keys))
    return f'swathbook amend {name} {values} --reason "…"'


def _tell_wish(operand: Operand) -> str:
    key = operand.key.removeprefix(SPECIFICATION)
    if operand.known is None:
        return f"Write {key} in job.toml."
    return f"Look at {key} in job.toml; if right, delete it from carried."


def tell_to_name_flight(process: Process) -> str:
    """Return how a flight is named that a recorded run left out: inputs are not amended."""
    places = dict.fromkeys(
        output.file.path.rpartition("/")[0] or output.file.path for output in process.outputs
    )
    typed = " ".join(quote_path(place) for place in places) or "PATH"
    return (
        f"Record it again with the flight that it was made from (swathbook record {typed} "
        f"--input F1), then put {process.id} aside (swathbook record decision {process.id} "
        "superseded)"
    )


def list_settling_keys(silent: Iterable[Process], about: str) -> tuple[str, ...]:
    """Return the keys that would tell what processes did, each once.

    Args:
        silent: processes that do not say so.
        about: `heights` or `positions`.
    """
    keys = (f"{each.kind}.{name}" for each in silent for name in _SETTLING[about][each.kind])
    return tuple(dict.fromkeys(keys))


def tell_to_say(process: Process, about: str) -> str:
    """Return how a run or step is told to have changed something, or to have left it alone."""
    command = write_command(process.id, process.kind, list_settling_keys([process], about))
    return f"Say what {process.id} did to {about} ({command})"
