"""Shapes from small records, and two thin renderers. Knows no job and no money."""
