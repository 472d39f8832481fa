"""Points from readings and sieves, their joined curve, and the fractions at the size limits."""
