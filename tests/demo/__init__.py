"""The study that ships with the package."""
