"""The site sheet: what a crew's phone gets, and its page."""

from stagefloor.readers.site.record import Box, Line, Punch, SiteSheet, Test

__all__ = ["Box", "Line", "Punch", "SiteSheet", "Test"]
