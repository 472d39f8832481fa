"""The page of a review: what it shows of causes, samples and changes, and the list of what waits."""
