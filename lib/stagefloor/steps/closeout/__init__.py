"""Closeout: the tests that lines need, readings judged, as-built differences, what the handover lacks."""

from stagefloor.steps.closeout.built import TOLERANCE, BuiltDifference, as_built
from stagefloor.steps.closeout.handover import (
    Completeness,
    Need,
    Part,
    completeness,
    default_documents,
)
from stagefloor.steps.closeout.line_tests import (
    BY_LICENSED,
    Limit,
    RequiredTest,
    length_doubt,
    limits,
    line_limits,
    possible_tests,
    required_tests,
)
from stagefloor.steps.closeout.readings import ReadingJudged, judge
from stagefloor.steps.closeout.still_open import open_items

__all__ = [
    "BY_LICENSED",
    "TOLERANCE",
    "BuiltDifference",
    "Completeness",
    "Limit",
    "Need",
    "Part",
    "ReadingJudged",
    "RequiredTest",
    "as_built",
    "completeness",
    "default_documents",
    "judge",
    "length_doubt",
    "limits",
    "line_limits",
    "open_items",
    "possible_tests",
    "required_tests",
]
