"""What a new job begins with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Any

from ledger.dataclass import dataclass


@dataclass(frozen=True)
class Beginning:
    """The content of a new job, before anything is made.

    Args:
        text: its `job.toml`.
        like: name of the job that it is like; empty for none.
        carried: keys of the specification taken over from that job.
        rigs: values of one rig entry for each rig taken over.
        flight: settings of the latest flight taken over, by field key, as an entry stores them.
        settings_map: rows of the settings map taken over, as an entry stores them.
    """

    text: str
    like: str = ""
    carried: tuple[str, ...] = ()
    rigs: tuple[Mapping[str, Any], ...] = ()
    flight: Mapping[str, Any] = field(default_factory=dict)
    settings_map: tuple[Mapping[str, Any], ...] = ()
