"""What flies: the equations, the compiled lanes, scores and traces."""
