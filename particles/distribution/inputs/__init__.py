"""Inputs of the arithmetic from one record: portion mass, filled blanks, noise, and refusal of what cannot be."""
