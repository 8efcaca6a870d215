"""Test cards on paper: one point a card, with the flight's own card, hazards and loading in front."""
