"""Tests of the register of printed procedures."""
