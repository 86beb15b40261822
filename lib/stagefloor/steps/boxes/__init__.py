"""Boxes: what is in each, whether the floor allows it, where they go at the least installed cost."""
