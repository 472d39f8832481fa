"""From the uncertainty of the inputs to that of sand, silt, clay and class, by Monte Carlo."""
