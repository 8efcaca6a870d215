"""The airplane of a study: its file, its speeds, its sheet, and a start from its handbook."""
