"""Closeout: the tests that lines need, readings judged, as-built differences, what the handover lacks."""

from stagefloor.steps.closeout.built import TOLERANCE, BuiltDifference, as_built
from stagefloor.steps.closeout.bulk import cells, entered, kinds_with_lines
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
    line_length,
    limits,
    line_limits,
    possible_tests,
    required_tests,
)
from stagefloor.steps.closeout.readings import ReadingJudged, judge
from stagefloor.steps.closeout.still_open import open_items
from stagefloor.steps.closeout.tester_columns import Column, TesterFile, columns, meanings, read_file
from stagefloor.steps.closeout.tester_import import Preview, preview, taken

__all__ = [
    "BY_LICENSED",
    "TOLERANCE",
    "BuiltDifference",
    "Column",
    "Completeness",
    "Limit",
    "Need",
    "Part",
    "Preview",
    "ReadingJudged",
    "RequiredTest",
    "TesterFile",
    "as_built",
    "cells",
    "columns",
    "completeness",
    "default_documents",
    "entered",
    "judge",
    "kinds_with_lines",
    "length_doubt",
    "limits",
    "line_length",
    "line_limits",
    "meanings",
    "open_items",
    "possible_tests",
    "preview",
    "read_file",
    "required_tests",
    "taken",
]
