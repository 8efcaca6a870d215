"""Studies: opened, edited, undone, and shown on the shelf."""
