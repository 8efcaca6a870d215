"""Forward-only migrations of the database, run when a store is opened."""
