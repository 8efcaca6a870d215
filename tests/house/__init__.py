"""The house rules: imports, purity of the core, hygiene of the repository, lock files and the build."""
