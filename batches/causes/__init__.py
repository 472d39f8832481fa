"""Causes found in a batch, kept with what they stand on, and what a reviewer answers to them."""
