"""The client's file and pages: what a page notebook calls."""

from stagefloor.readers.client.pages import (
                                             as_built,
                                             assumptions,
                                             box_cards,
                                             care,
                                             cover,
                                             handover,
                                             old_outlets,
                                             open_file,
                                             price,
                                             remarks,
                                             revisions,
                                             scope,
                                             served,
                                             stage_plan,
                                             summary,
                                             tests,
                                             told_us,
                                             workings,
)
from stagefloor.readers.client.record import ClientFile

__all__ = ["ClientFile", "as_built", "assumptions", "box_cards", "care", "cover", "handover", "old_outlets",
           "open_file", "price", "remarks", "revisions", "scope", "served", "stage_plan", "summary", "tests", "told_us",
           "workings"]
