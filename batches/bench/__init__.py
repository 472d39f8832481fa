"""Starts, readings and observations at the cylinders."""
