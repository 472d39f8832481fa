"""A certificate as data."""
