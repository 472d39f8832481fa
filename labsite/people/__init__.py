"""People: log-ins, roles, what each role may do, and the pages on which the manager keeps them."""
