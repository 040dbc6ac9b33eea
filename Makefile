# `make demo` and `make test` are what most want; each target sets up what it needs in .venv.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
OUT ?= demo_out
# pip would take as long to compile every package as to unpack it: Python compiles what is used.
INSTALL := -m pip install --quiet --no-compile
# It keeps what it compiles, whatever the shell says: otherwise each process would compile it again.
unexport PYTHONDONTWRITEBYTECODE
# Test workers keep the memory of freed arrays instead of returning it to the system (glibc only).
KEEPING := MALLOC_MMAP_THRESHOLD_=268435456 MALLOC_TRIM_THRESHOLD_=536870912
SOURCES := $(shell find seabed layers -name '*.py')

.PHONY: demo test test-all docs bench mutations clean browser lint types pages scripts collected

demo: $(VENV)/.ready
	$(BIN)/seabed demo --out $(OUT)
	@echo "Open the page on this water:  $(BIN)/seabed desk $(OUT)/area"

# What does not wait for one another is done side by side, on two processors.
test:
	$(MAKE) --jobs 2 $(VENV)/.ready browser
	$(MAKE) --jobs 2 $(VENV)/.compiled types lint scripts pages collected
	$(KEEPING) $(BIN)/python -m pytest --numprocesses 2 --dist loadfile

# As `test`, with all there is to try: hours.
test-all:
	SEABED_THOROUGH=1 $(MAKE) test
	$(MAKE) mutations

# Whether the tests notice small changes to the code, a room at a time.
mutations: $(VENV)/.ready-test
	$(BIN)/python $(INSTALL) --group mutations
	for room in terrain structure water scoring planning; do $(BIN)/python tests/mutations.py $$room || exit 1; done

browser:
	sh tests/browser.sh

lint: $(VENV)/.ready-test
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .

types: $(VENV)/.ready-test
	$(BIN)/mypy

# The page's code: its rules and its unit tests, both with the node that is in .venv.
scripts: $(VENV)/.ready-scripts
	PATH="$$PWD/$(BIN):$$PATH" $(VENV)/scripts/node_modules/.bin/eslint --config layers/maps/browser/eslint.config.js layers/maps/browser tests/maps/browser
	$(BIN)/node --test tests/maps/browser/*.test.mjs

# The examples on the pages use the inner loops, and so do the tests.
pages collected: $(VENV)/.compiled

pages: $(VENV)/.ready-test
	$(BIN)/sphinx-build -W -q docs docs/_build

# Workers that find tests not compiled would each compile them, and what they import.
collected: $(VENV)/.ready-test
	$(BIN)/python -m pytest --collect-only --quiet --quiet >$(VENV)/collected || { tail -50 $(VENV)/collected; exit 1; }

# So with the inner loops.  That needs no package of the tests: they are installed, and the code is checked, meanwhile.
$(VENV)/.compiled: $(VENV)/.ready $(SOURCES)
	$(BIN)/python tests/compiled_once.py
	touch $@

docs: pages
	@echo "Open docs/_build/index.html"

bench: $(VENV)/.ready-bench
	$(BIN)/python -m benchmarks --write docs/benchmarks.md

$(VENV)/.ready: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python $(INSTALL) --upgrade "pip>=25.1"
	$(BIN)/python $(INSTALL) --editable .
	touch $@

$(VENV)/.ready-test: $(VENV)/.ready
	$(BIN)/python $(INSTALL) --group dev
	touch $@

$(VENV)/.ready-scripts: layers/maps/browser/package.json $(VENV)/.ready-test
	mkdir -p $(VENV)/scripts
	cp $< $(VENV)/scripts/
	PATH="$$PWD/$(BIN):$$PATH" npm install --prefix $(VENV)/scripts --silent --no-audit --no-fund --ignore-scripts
	touch $@

$(VENV)/.ready-bench: $(VENV)/.ready-test
	$(BIN)/python $(INSTALL) --group bench
	touch $@

clean:
	rm -rf $(VENV) build dist docs/_build $(OUT) test_artefacts .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache
