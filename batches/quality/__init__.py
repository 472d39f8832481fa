"""Duplicates, and what they say of the laboratory."""
