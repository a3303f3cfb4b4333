"""A finding that files share is what each of them would have been told, and no nonconformity."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import pytest

from ledger.audit.folding import fold_alike
from ledger.contract.check import Check, Finding, Grade, SharedFinding, Where
from ledger.contract.shared import ANY_FILE
from ledger.contract.validity import require_shared
from ledger.errors import ContractError

FILES = ("b.laz", "a.laz", "c.laz")


class Sample(Check):
    """A check whose answers are made by hand."""

    id = "sample"
    title = "Files are as they should be"

    def finish(self, *_: Any) -> Iterable[Finding]:
        """Answer nothing."""
        return ()


CHECK = Sample()
GOOD = CHECK.conforms(ANY_FILE, f"{ANY_FILE} is fine.", where=Where(file=ANY_FILE))
OPEN = CHECK.not_assessed(
    ANY_FILE, f"{ANY_FILE}: it was not read.", ("points",), where=Where(file=ANY_FILE)
)
BAD = CHECK.nonconforming(Grade.MINOR, ANY_FILE, "It is odd.", where=Where(file=ANY_FILE))


@pytest.mark.parametrize("finding", [GOOD, OPEN], ids=["good", "open"])
@pytest.mark.parametrize("count", [1, 3])
def test_what_is_kept_is_the_same_whether_files_share_or_not(finding: Finding, count: int) -> None:
    """Folded from the shared answer, or from the answer of each file: not a word differs."""
    shared = SharedFinding(finding, FILES[:count], {path: (path[0] * 64,) for path in FILES})
    each = tuple(shared.spread())
    assert [one.subject for one in each] == list(FILES[:count])
    assert all(one.where.file == one.subject and ANY_FILE not in one.sentence for one in each)
    titles = {CHECK.id: CHECK.title}
    assert list(fold_alike([shared], titles, set(FILES))) == list(
        fold_alike(each, titles, set(FILES))
    )


@pytest.mark.parametrize(
    "shared",
    [
        SharedFinding(BAD, FILES),
        SharedFinding(GOOD, ()),
        SharedFinding(GOOD, ("a.laz", "a.laz")),
        SharedFinding(replace(GOOD, where=Where()), FILES),
        SharedFinding(replace(GOOD, observed=f"{ANY_FILE} m"), FILES),
        SharedFinding(replace(GOOD, check="another"), FILES),
        SharedFinding(GOOD, ("a" * 5000,)),
    ],
    ids=["bad", "no file", "twice", "no place", "a path in a value", "another's", "too long"],
)
def test_what_cannot_be_shared_is_refused(shared: SharedFinding) -> None:
    """A nonconformity is told file by file; what names no file, or one twice, is no answer."""
    with pytest.raises(ContractError):
        require_shared(CHECK, shared)
