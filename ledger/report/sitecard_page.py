"""The site card to be printed: one page in black and white that needs nothing else."""

from __future__ import annotations

from jinja2 import Environment, PackageLoader, StrictUndefined

from ledger.report.sitecard import (
    list_places,
    split_lines,
    write_numbers,
    write_part,
    write_title,
    write_unseen_title,
)
from ledger.sitecard import CAUTIONS, Line, SiteCard


def make_site_page(card: SiteCard) -> str:
    """Return the card as an HTML page.

    Args:
        card: the card.
    """
    # Names of grids and jobs come from whoever wrote them: all that enters is escaped.
    pages = Environment(
        loader=PackageLoader("ledger.report", "pages"), autoescape=True, undefined=StrictUndefined
    )
    seen, unseen = split_lines(card)
    return pages.get_template("sitecard.html").render(
        title=write_title(card),
        places=list_places(card),
        notes=card.notes,
        facts=[(fact.label, write_part(fact.part), fact.how) for fact in card.facts],
        seen=[_write(line) for line in seen],
        unseen=[_write(line) for line in unseen],
        unseen_title=write_unseen_title(),
        missing=[each.reason for each in card.missing],
        cautions=CAUTIONS,
    )


def _write(line: Line) -> tuple[str, str, str]:
    return write_numbers(line), line.why, line.how
