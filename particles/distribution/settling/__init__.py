"""Water, Stokes, and what a reading on the stem says of mass and depth."""
