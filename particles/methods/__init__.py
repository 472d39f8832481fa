"""Method editions in the database and in plain sentences."""
