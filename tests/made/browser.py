"""Pages as a browser prints them: without a network, without a profile of its own to remember."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")


def count_printed_pages(page: Path, folder: Path) -> int:
    """Return how many pages of A4 a page takes; the test is skipped where no browser is.

    Args:
        page: the HTML file.
        folder: where the browser may write.
    """
    browser = next((found for name in _BROWSERS if (found := shutil.which(name))), None)
    if browser is None:
        pytest.skip("NO BROWSER IS AT HAND: how a page is printed was not looked at")
    pdf = folder / "page.pdf"
    words = [
        browser,
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--no-pdf-header-footer",
        "--host-resolver-rules=MAP * ~NOTFOUND",
        f"--user-data-dir={folder / 'profile'}",
        f"--print-to-pdf={pdf}",
        page.as_uri(),
    ]
    subprocess.run(words, check=True, capture_output=True, timeout=120)
    content = pdf.read_bytes()
    assert content.startswith(b"%PDF")
    # A4 is 210 mm by 297 mm (ISO 216), 595 by 842 points of 1/72 inch.
    boxes = set(re.findall(rb"/MediaBox\s*\[0 0 (\d+)[.\d]* (\d+)", content))
    assert boxes <= {(b"594", b"841"), (b"595", b"841"), (b"595", b"842"), (b"594", b"842")}
    return len(re.findall(rb"/Type\s*/Page\b", content))
