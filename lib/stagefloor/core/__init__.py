"""Units at the edge, workings that show themselves, open items, problems. Knows nothing of a job."""
