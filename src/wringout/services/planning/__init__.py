"""Test plans: proposed, edited, held against limits, asked what they can decide, printed as cards."""
