"""Records put under the right cylinder, and readings left out."""
