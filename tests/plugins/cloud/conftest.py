"""Lets the tests of this folder import `made_cloud`, which lies at the top of the tests."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
