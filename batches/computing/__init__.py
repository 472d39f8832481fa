"""From complete readings to stored results."""
