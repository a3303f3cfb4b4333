"""A number that an audit tells, whether anything is asked of it or not."""

from __future__ import annotations

from ledger.dataclass import dataclass


@dataclass(frozen=True)
class Figure:
    """One number about a delivery, with how much stands behind it.

    Args:
        name: kebab case, unique within its check (`vertical-rmse`).
        topic: the heading under which figures that belong together stand.
        sentence: the number as a person reads it, with unit, basis and limits.
        value: the number as decimal text; empty where there is none to tell.
        unit: its unit; empty for a mere number.
        count: how many things it was computed from; None where that is no question.
        low, high: limits of its interval of 95 % as decimal text; empty for none.
        of: which of the things (`non-vegetated`); empty for all.
        listed: names of what was counted, such as the tiles without a checkpoint.
        values: the number of each of `listed`, as decimal text in `unit`, for plots; empty
            where nothing was measured at each.
        is_inner: it compares the files among themselves: nothing of the ground is proven by it.
        step: size in `unit`, as decimal text, of equal steps from `value` upward, of which `values`
            tell how many lie in each; empty where nothing is counted so.
        check: id of the check that told it; filled in by the runner.
    """

    name: str
    topic: str
    sentence: str
    value: str = ""
    unit: str = ""
    count: int | None = None
    low: str = ""
    high: str = ""
    of: str = ""
    listed: tuple[str, ...] = ()
    values: tuple[str, ...] = ()
    is_inner: bool = False
    step: str = ""
    check: str = ""
