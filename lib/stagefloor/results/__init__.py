"""Runs the steps in order on one job and keeps nothing."""

from stagefloor.results.compute import BoxResult, Results, compute, open_items

__all__ = ["BoxResult", "Results", "compute", "open_items"]
