"""From readings and sieves to points, a joined curve, and the fractions at the size limits."""
