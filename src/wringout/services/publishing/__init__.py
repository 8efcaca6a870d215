"""Briefs and bundles written, found again and verified."""
