"""Facts a client supplied, put right."""
