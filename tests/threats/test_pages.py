"""Pages hold no mark-up of a stranger, whatever names, headers, records and wishes say.

What a browser would carry out is listed by the parser of the standard library.
"""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

import pytest
from job_bench import JobBench

from ledger.testing import Layout, Scene, SurveyBuilder

EVIL = '"><img src=x onerror=alert(1)><script>alert(2)</script></title></style>'
# A file name holds no slash, and LAS holds 32 letters for software and system.
NAME = "<img src=x onerror=alert(1)>.las"
SHORT = b"<script>alert(3)</script>"
FETCHING = {"src", "href", "action", "data", "poster", "srcset", "formaction"}


class Harm(HTMLParser):
    """What of a page would run, or fetch something."""

    def __init__(self, text: str) -> None:
        """Read it."""
        super().__init__()
        self.found: list[str] = []
        self.texts: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what does harm."""
        if tag in {"script", "iframe", "object", "embed", "base", "form", "link"}:
            self.found.append(tag)
        for name, value in attrs:
            is_away = name in FETCHING and not (value or "").startswith(("#", "data:image/"))
            if name.startswith("on") or is_away:
                self.found.append(f"{tag} {name}={value}")

    def handle_data(self, data: str) -> None:
        """Keep what is shown."""
        self.texts.append(data)


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Harm]:
    """Return the pages of a job in which every text is hostile, by their names."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATHBOOK_HOME", str(tmp_path_factory.mktemp("home")))
        bench = JobBench(tmp_path_factory.mktemp("work"))
        survey = SurveyBuilder(bench.job / "out", Layout(compressed=False), Scene(columns=1))
        tile = survey.paths[0]
        content = bytearray(tile.read_bytes())
        content[58:90] = SHORT.ljust(32, b"\0")  # generating software, LAS 1.4 R16 table 3
        tile.write_bytes(content)
        tile.rename(tile.with_name(NAME))
        bench.write("job.toml", f"[job]\nreference = '{EVIL}'\ntitle = '{EVIL}'\n".encode())
        record = ("--name", EVIL, "--set", f"software={EVIL}", "--set", f"purpose={EVIL}")
        given = ("--to", EVIL, "--use", EVIL, "--limits", EVIL, "--despite", EVIL, "--by", EVIL)
        for words in (
            ("record", "out", *record, "--by", EVIL),
            ("audit", "out"),
            ("handover", "out", *given),
            ("sitecard", tile.with_name(NAME), "--page", bench.job / "card.html"),
            ("record", "flight", "F1", "--card", bench.job / "blank.html"),
        ):
            ran = bench.run(*words)
            assert ran.status in (0, 1, 3), (words, ran.err)
        found = {path.name: path for path in bench.job.rglob("*.html")}
        return {name: Harm(path.read_text(encoding="utf-8")) for name, path in found.items()}


def test_nothing_of_a_stranger_runs_or_is_fetched(pages: dict[str, Harm]) -> None:
    """No page has a script, an event, a form, or the address of anything outside."""
    assert {"report.html", "custody-sheet.html", "card.html", "blank.html"} <= set(pages)
    assert {name: page.found for name, page in pages.items() if page.found} == {}


def test_it_is_shown_as_it_was_given(pages: dict[str, Harm]) -> None:
    """Else nothing was tried: name, record and wishes stand on report and sheet as text."""
    for name in ("report.html", "custody-sheet.html"):
        shown = "".join(pages[name].texts)
        assert NAME in shown
        assert EVIL in shown
    assert EVIL in "".join(pages["blank.html"].texts)


def test_harm_is_seen(tmp_path: Path) -> None:
    """The list finds each kind of it."""
    text = f'<p title="{EVIL}<a href="javascript:x">b</a><link href="http://a"><p onclick="x">'
    assert len(Harm(text).found) == 7
