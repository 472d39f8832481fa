"""Parts that every record of the laboratory shares: history, moves, superseding, numbers, refusals."""
