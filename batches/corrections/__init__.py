"""Recorded facts of a batch, superseded."""
