# Wringout. Needs make and Python 3.11 or newer; everything else is installed into .venv from the lock files.
SHELL := /bin/sh
.DEFAULT_GOAL := help
.NOTPARALLEL:

# PYTHON: the interpreter to build .venv with (empty: the first that works of python3.13, 3.12, 3.11, python3).
PYTHON ?=
# WORKERS: processes that share the tests.
WORKERS ?= 2
# TESTS: what to test, for example TESTS=tests/house or TESTS="-k airspeed".
TESTS ?=
# MINUTES: how long make fuzz looks, shared among the readers.
MINUTES ?= 60
# UPGRADE: set to 1 to let `make lock` move to newer releases instead of keeping the pinned ones.
UPGRADE ?=

BIN := .venv/bin
BUILD = python=$$(sh tools/find_python.sh $(PYTHON)) && "$$python" tools/environment.py
LOCK = $(BIN)/uv pip compile pyproject.toml --quiet --system-certs --universal --fork-strategy fewest --python-version 3.11 \
	--generate-hashes --no-emit-index-url --no-emit-find-links --custom-compile-command "make lock" \
	$(if $(UPGRADE),--upgrade)

.PHONY: help demo test lint format lock bench accuracy accuracy-methods scripts fuzz audit clean run-environment dev-environment

help: ## say what can be asked for
	@sed -n 's/^\([a-z-]*\):.*## /  make \1	/p' Makefile

demo: run-environment ## build everything and work the bundled study from question to brief
	@$(BIN)/wringout demo

test: lint ## check the code and run every test
	@$(BIN)/python -m pytest -n $(WORKERS) --dist loadfile $(TESTS)

lint: dev-environment ## check style, format, types and the import contract
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check --quiet . || { echo "The files above are not in the house format: run make format." >&2; exit 1; }
	@$(BIN)/mypy
	@$(BIN)/lint-imports --no-logo

format: dev-environment ## put the code into the house format
	@$(BIN)/ruff check --fix --quiet . || true
	@$(BIN)/ruff format --quiet .

lock: dev-environment ## resolve pyproject.toml into requirements/*.txt (UPGRADE=1 takes newer releases)
	@$(LOCK) --group build --output-file requirements/run.txt
	@$(LOCK) --group build --group dev --constraint requirements/run.txt --output-file requirements/dev.txt

bench: dev-environment ## time reduction, matchup and readers
	@set -e; for script in benchmarks/[a-z]*.py; do \
		test -e "$$script" || { echo "There is nothing in benchmarks/ to time." >&2; exit 1; }; \
		echo "== $$script"; $(BIN)/python "$$script"; \
	done

accuracy: dev-environment ## measure the reductions against an outside airplane and write docs/accuracy.md (minutes)
	@$(BIN)/python tools/accuracy_table.py

accuracy-methods: dev-environment ## measure every method and the technique engine on three outside airplanes (an hour)
	@$(BIN)/python tools/accuracy_methods.py

fuzz: dev-environment ## feed every reader with damaged and invented files (MINUTES=60)
	@$(BIN)/uv pip install --quiet --system-certs --require-hashes --no-deps --target artefacts/atheris \
		-r requirements/fuzz.txt || echo "atheris cannot be had here; files are changed at random instead."
	@PYTHONPATH=artefacts/atheris $(BIN)/python tools/fuzz.py --minutes $(MINUTES)

audit: dev-environment ## hold every installed file against the hash its package came with, and write docs/licences.md
	@$(BIN)/python tools/supply.py licences
	@$(BIN)/python tools/supply.py audit

scripts: ## check the types of the pages' scripts (needs npm, and fetches TypeScript)
	@npm exec --yes --package typescript@5.9.3 -- tsc --noEmit --allowJs --checkJs --strict --target es2023 \
		--lib es2023,dom,dom.iterable --module esnext --moduleResolution bundler \
		src/wringout/cockpit/files/*.js src/wringout/web/static/*.js

clean: ## remove the environment and all caches (the demo study is kept)
	rm -rf .venv .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache build dist
	find $(wildcard src tests tools benchmarks) -name __pycache__ -type d -prune -exec rm -rf {} +

run-environment:
	@$(BUILD) run

dev-environment:
	@$(BUILD) dev
