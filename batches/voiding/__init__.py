"""Runs that do not count."""
