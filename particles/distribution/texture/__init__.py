"""Texture classes: the rules of the USDA triangle and the polygons of the other systems."""
