"""Tests without a hydrometer run: sieves alone, a pipette, and figures that were made elsewhere."""
