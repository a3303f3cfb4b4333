"""The profile files of this package."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files

from ledger.contract.profile import Profile
from ledger.loading import load_part

ENDING = ".toml"


def list_profiles() -> Iterator[Profile | Exception]:
    """Yield every profile of every file, and the fault of a file that cannot be used."""
    read = load_part("ledger.contract.profilefile", "read_profiles")  # few audits ask for one
    for each in sorted(files(__package__).iterdir(), key=lambda found: found.name):
        if not each.name.endswith(ENDING):
            continue
        try:
            yield from read(each.read_bytes(), each.name)
        except Exception as error:  # noqa: BLE001 - one broken file must not cost the others
            yield error
