"""A certificate as a signed PDF."""
