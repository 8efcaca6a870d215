"""Findings of many airplanes pooled and shared, and archives of logs scanned."""
