"""What judges: matchups, verdicts, maps, searches, and why."""
