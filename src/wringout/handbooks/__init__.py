"""Published procedures: a register with effectivity, each printed order read as a technique, and how they agree."""
