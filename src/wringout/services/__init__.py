"""The use cases, once: plan, take in, reduce, compare, publish. Records become arrays here, and results records."""
