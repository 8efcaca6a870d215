"""The register of printed procedures, and what they come to when they are flown."""
