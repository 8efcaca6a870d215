"""Text tables: hand-called readings, lists of stalls and timings, loggers' tables."""
