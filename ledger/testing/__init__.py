"""For authors of checks: tiny surveys with one fault each, and the laws that every tally must keep.

Nothing in the core imports this package.
"""

from ledger.testing.layout import Layout
from ledger.testing.scene import Scene
from ledger.testing.survey import SurveyBuilder

__all__ = ["Layout", "Scene", "SurveyBuilder"]
