"""Tests of pooled findings and archives of logs."""
