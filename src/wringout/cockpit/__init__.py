"""The page of taps that flies along: static files, and the shapes in which they are handed out."""
