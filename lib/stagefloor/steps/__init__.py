"""Arithmetic and choice, a module a step: inventory, paths, boxes, cables, labour, closeout. Knows no file, no widget."""
