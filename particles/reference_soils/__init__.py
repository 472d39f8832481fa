"""Reference soils: bulk soils of the laboratory's own, of which a portion runs in each batch."""
