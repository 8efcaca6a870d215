"""Flight-test methods: one file or folder each, all offering what :class:`methods.types.Method` lists."""
