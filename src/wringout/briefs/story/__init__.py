"""The story of a brief: from a study's results to the sections that say them."""
