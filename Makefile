# Two commands do everything on a machine that has Python, make and apt:
#   make demo    install, make the demo title, lay it out and plan every side, open the desk on it
#   make test    install what the tests need, run them all
# `make check` is the fast gate.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
SUDO := $(shell [ "$$(id -u)" = 0 ] || echo sudo)
PACKAGES := ffmpeg wesnoth-1.16-music warzone2100-music chromium postgresql

.PHONY: install demo test check format benchmark music clean

install: $(VENV)/.installed

$(VENV)/.installed: pyproject.toml
	$(PYTHON) -c 'import ensurepip' 2>/dev/null || \
	  { $(SUDO) apt-get update -qq && DEBIAN_FRONTEND=noninteractive $(SUDO) apt-get install -y -qq python3-venv >/dev/null; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check -e ".[desk]" 2>&1 | grep -v '^WARNING: Location' || true
	$(BIN)/python -c 'import discwright, numba, highspy, soundfile, fastapi'
	touch $@

$(VENV)/.developing: $(VENV)/.installed
	$(BIN)/pip install --quiet --disable-pip-version-check -e ".[dev]" 2>&1 | grep -v '^WARNING: Location' || true
	$(BIN)/python -c 'import pytest, hypothesis, playwright, schemathesis'
	touch $@

demo: install
	$(BIN)/discwright demo demo
	$(BIN)/discwright desk demo

# Freely licensed music, an audio tool and a browser, from Debian's packages; only what is missing is installed.
music:
	@missing=""; for p in $(PACKAGES); do dpkg -s $$p >/dev/null 2>&1 || missing="$$missing $$p"; done; \
	if [ -n "$$missing" ]; then \
	  $(SUDO) apt-get update -qq && DEBIAN_FRONTEND=noninteractive $(SUDO) apt-get install -y -qq --no-install-recommends $$missing >/dev/null; \
	fi

check: $(VENV)/.developing
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/pytest -q -m "not music and not slow"
	$(BIN)/python benchmarks/run.py --quick

test: $(VENV)/.developing music
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/pytest
	NUMBA_DISABLE_JIT=1 $(BIN)/pytest -q tests/groove/test_kernels.py tests/desk/test_kernels.py
	$(BIN)/python benchmarks/run.py --quick

format: $(VENV)/.developing
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

benchmark: $(VENV)/.developing music
	$(BIN)/python benchmarks/run.py --write

clean:
	rm -rf $(VENV) demo .music .pytest_cache .mypy_cache .ruff_cache .import_linter_cache
