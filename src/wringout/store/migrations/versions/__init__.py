"""The migrations, oldest first; a released one is never edited."""
