"""What lies behind the findings of a batch: causes, each with its effect on the figures and what settles it."""
