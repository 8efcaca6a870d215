"""Briefs: a study printed as one page of HTML and one PDF, every number with its evidence beside it."""
