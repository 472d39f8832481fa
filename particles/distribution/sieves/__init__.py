"""Dry masses on a stack of sieves, of the sand and of the gravel."""
