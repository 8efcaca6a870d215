"""One airplane fitted to all runs of a study: the joint fit, its posterior draws and its findings."""
