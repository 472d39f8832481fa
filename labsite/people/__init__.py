"""People: log-ins, roles and what each role may do."""
