# Two commands: `make demo` and `make test`.  Both set up what they need in .venv.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
OUT ?= demo_out

.PHONY: demo test docs bench clean

demo: $(VENV)/.ready
	$(BIN)/seabed demo --out $(OUT)

test: $(VENV)/.ready-test
	sh tests/browser.sh
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/sphinx-build -W -q docs docs/_build
	$(BIN)/python -m pytest --numprocesses 2 --dist loadfile

docs: $(VENV)/.ready-test
	$(BIN)/sphinx-build -W -q docs docs/_build
	@echo "Open docs/_build/index.html"

bench: $(VENV)/.ready-bench
	$(BIN)/python -m benchmarks

$(VENV)/.ready: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade "pip>=25.1"
	$(BIN)/python -m pip install --quiet --editable .
	touch $@

$(VENV)/.ready-test: $(VENV)/.ready
	$(BIN)/python -m pip install --quiet --editable . --group dev
	touch $@

$(VENV)/.ready-bench: $(VENV)/.ready-test
	$(BIN)/python -m pip install --quiet --group bench
	touch $@

clean:
	rm -rf $(VENV) build dist docs/_build $(OUT) test_artefacts .pytest_cache .mypy_cache .ruff_cache .hypothesis
