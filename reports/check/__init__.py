"""Whether a paper is genuine and current."""
