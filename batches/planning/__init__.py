"""Batches, their runs, and what is done to them up to the bench."""
