"""Issuing, amending and withdrawing certificates."""
