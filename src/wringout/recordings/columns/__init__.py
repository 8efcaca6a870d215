"""What a column of a table is: known by its name and unit, or said by a mapping; numbers that cannot be right."""
