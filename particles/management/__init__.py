"""Commands of the particles."""
