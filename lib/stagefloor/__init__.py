"""Stagefloor: one job of stage-floor connectivity, from the first site visit to the closeout report."""
