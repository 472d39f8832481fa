"""Portions taken for analysis."""
