"""The dates that open items of this step block."""

STRINGS = "raceways in, strings proved"
PANELS = "panels ordered"
