"""Which way each line goes, how long it is, what the raceways hold, and the takeoff. Lengths in metres."""

from stagefloor.steps.cables.items import open_items
from stagefloor.steps.cables.lines import Line, cable_totals, check, lines, one_a_cable, total_working
from stagefloor.steps.cables.pulls import Pull, pulls
from stagefloor.steps.cables.raceways import Raceway, raceways
from stagefloor.steps.cables.takeoff import takeoff

__all__ = ["Line", "Pull", "Raceway", "cable_totals", "check", "lines", "one_a_cable", "open_items", "pulls", "raceways",
           "takeoff", "total_working"]
