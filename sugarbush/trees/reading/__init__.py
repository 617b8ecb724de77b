"""Reading a town's tree file and street file. Knows nothing of the database."""
