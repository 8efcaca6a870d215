"""Cockpit techniques: pilot actions in time, pilot laws, the trajectory kernel, matchups of orders and verdicts."""
