"""Method editions: their values, the limits of their checks, and whether an edition makes sense."""
