# The two commands a newcomer needs: `make demo` and `make test`. Both set up all they need without root.
PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
STAMP  := $(VENV)/.installed

.PHONY: demo test lint bench setup clean

demo: $(STAMP)
	$(BIN)/rodtrue demo

test: lint
	$(BIN)/python -m pytest -n auto

lint: $(STAMP)
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/python tests/firmware/check_types.py
	$(BIN)/lint-imports

bench: $(STAMP)
	$(BIN)/pip install --quiet --editable '.[bench]'
	$(BIN)/python -m bench

setup: $(STAMP)

$(STAMP): pyproject.toml
	@echo "Setting up $(VENV): some minutes, 1.3 GB; only the first time."
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --upgrade pip
	$(BIN)/pip install --quiet --editable '.[dev]'
	touch $(STAMP)

clean:
	rm -rf $(VENV) dist build
