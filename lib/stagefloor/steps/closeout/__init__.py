"""Closeout: the tests that lines need, readings judged, as-built differences, what the handover lacks."""

from stagefloor.steps.closeout.built import (
    BuiltDifference,
    BuiltLength,
    Change,
    as_built,
    built_job,
    built_lengths,
    changes,
)
from stagefloor.steps.closeout.bulk import cells, entered, kinds_with_lines
from stagefloor.steps.closeout.handover import (
    Completeness,
    Need,
    Part,
    completeness,
    default_documents,
    overdue,
)
from stagefloor.steps.closeout.line_tests import (
    BY_LICENSED,
    Limit,
    RequiredTest,
    length_doubt,
    limits,
    line_length,
    line_limits,
    possible_tests,
    required_tests,
    why_no_limit,
)
from stagefloor.steps.closeout.outage import RUNS, EventOutage, Outage, Patch, out_of_service
from stagefloor.steps.closeout.readings import ReadingJudged, judge, parted
from stagefloor.steps.closeout.recheck import refit
from stagefloor.steps.closeout.service import ServiceRecord, labels, service
from stagefloor.steps.closeout.still_open import open_items
from stagefloor.steps.closeout.tester_columns import Column, TesterFile, columns, meanings, read_file
from stagefloor.steps.closeout.tester_import import Preview, preview, taken
from stagefloor.steps.closeout.warranties import WarrantyTerm, last_day, warranty_terms

__all__ = [
    "BY_LICENSED",
    "RUNS",
    "BuiltDifference",
    "BuiltLength",
    "Change",
    "Column",
    "Completeness",
    "EventOutage",
    "Limit",
    "Need",
    "Outage",
    "Part",
    "Patch",
    "Preview",
    "ReadingJudged",
    "RequiredTest",
    "ServiceRecord",
    "TesterFile",
    "WarrantyTerm",
    "as_built",
    "built_job",
    "built_lengths",
    "cells",
    "changes",
    "columns",
    "completeness",
    "default_documents",
    "entered",
    "judge",
    "kinds_with_lines",
    "labels",
    "last_day",
    "length_doubt",
    "limits",
    "line_length",
    "line_limits",
    "meanings",
    "open_items",
    "out_of_service",
    "overdue",
    "parted",
    "possible_tests",
    "preview",
    "read_file",
    "refit",
    "required_tests",
    "service",
    "taken",
    "warranty_terms",
    "why_no_limit",
]
