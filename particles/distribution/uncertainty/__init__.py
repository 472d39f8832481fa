"""Uncertainty of sand, silt, clay and class from that of the inputs, by Monte Carlo."""
