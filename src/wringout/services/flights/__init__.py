"""Flights: taps, recordings and clips taken in, clocks brought together, runs cut."""
