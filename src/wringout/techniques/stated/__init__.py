"""What is stated: techniques, procedures and their checks; values only."""
