"""What a record gives the arithmetic: portion mass, filled blanks, noise, and what cannot be."""
