"""Review by somebody else, up to the signature."""
