"""The crew's file and pages: what a page notebook calls."""

from stagefloor.readers.crew.pages import (
    all_labels,
    before_you_start,
    cut_list,
    diagram,
    label_sheets,
    open_file,
    pictures,
    pull_sheets,
    routes,
    sections,
    trim_outs,
)
from stagefloor.readers.crew.record import CrewFile

__all__ = ["CrewFile", "all_labels", "before_you_start", "cut_list", "diagram", "label_sheets", "open_file", "pictures",
           "pull_sheets", "routes", "sections", "trim_outs"]
