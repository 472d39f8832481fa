"""Soil from its arrival to the bench, and the core that computes particle sizes."""
