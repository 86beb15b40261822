"""The client's file and pages: what a page notebook calls."""

from stagefloor.readers.client.closeout_pages import (
    built_plan,
    change_log,
    evidence,
    failures,
    given,
    lines,
    pictures,
    state,
    test_workings,
    tests,
    user_cards,
)
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
    told_us,
    workings,
)
from stagefloor.readers.client.record import ClientFile

__all__ = ["ClientFile", "as_built", "assumptions", "box_cards", "built_plan", "care", "change_log", "cover", "evidence",
           "failures", "given", "handover", "lines", "old_outlets", "open_file", "pictures", "price", "remarks", "revisions",
           "scope", "served", "stage_plan", "state", "summary", "test_workings", "tests", "told_us", "user_cards",
           "workings"]
