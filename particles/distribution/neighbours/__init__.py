"""Findings that need the other runs of the batch."""
