# Landing Station. Every target sets up .venv by itself, the first time and when needs change.

VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
MAKING := $(VENV)/.making
# Name a Python to use: make PYTHON=/path/to/python3.12 test
PYTHON ?=
export PYTHON
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.DEFAULT_GOAL := help
.PHONY: help demo test lint bench prove clean FORCE

help: ## Say what can be made
	@echo "Landing Station. make ..."
	@awk -F ':.*## ' '/^[a-z]+:.*## / { printf "  %-18s %s\n", $$1, $$2 }' $(MAKEFILE_LIST)

# Without a display nobody watches: then nothing is dropped, as fast as it goes (--fast).
demo: $(READY) ## A simulated runner in front of the whole station, into out/demo
	@$(BIN)/station demo $(if $(DISPLAY)$(WAYLAND_DISPLAY),,--fast)

# One process a core; a file's tests stay together, since they share what they measure once.
test: $(READY) ## The fast tests
	@$(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder

lint: $(READY) ## Style, types and layers
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-logo

bench: $(READY) ## Speed and accuracy on this machine: tables, one JSON line each
	@set -e; for bench in tests/bench/bench_*.py; do $(BIN)/python $$bench; done

prove: $(READY) ## One long proof: make prove NAME=..., one JSON line
	@if [ -z "$(NAME)" ] || [ ! -f "tests/proofs/$(NAME).py" ]; then \
	  echo "make prove NAME=...: no proof '$(NAME)'. There are:" >&2; \
	  for f in tests/proofs/*.py; do [ -f "$$f" ] && echo "  $$(basename "$$f" .py)" >&2; done; \
	  exit 2; \
	fi
	@$(BIN)/python tests/proofs/$(NAME).py

clean: ## Remove what was written or cached here (out/, caches); .venv stays
	@rm -rf out build dist .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
	@find . -path ./$(VENV) -prune -o -name __pycache__ -type d -prune -exec rm -rf {} +

# A folder that was moved or copied holds a .venv of another place: it is made anew.
ifneq ($(wildcard $(READY)),)
ifneq ($(shell cat $(READY)),$(CURDIR))
$(READY): FORCE
endif
endif
FORCE:

# $(MAKING) marks a .venv that was never finished: it is thrown away and made anew. One that a
# person made is used as it is, if its Python is in range.
$(READY): pyproject.toml constraints.txt
	@for p in "$(PYTHON)" python3 python3.12 python3.11 python3.10 python; do \
	  if [ -n "$$p" ] && "$$p" -c '' 2>/dev/null; then checker=$$p; break; fi; \
	done; \
	if [ -z "$$checker" ]; then \
	  echo "There is no Python here. Needed: 3.10, 3.11 or 3.12" \
	    "(Debian: sudo apt-get install python3 python3-venv)" >&2; exit 2; \
	fi; \
	python=$$("$$checker" preflight.py) || exit 2; \
	fit='import sys, pip; sys.exit(not (3, 10) <= sys.version_info < (3, 13))'; \
	if [ -e $(MAKING) ] || ! $(BIN)/python -c "$$fit" 2>/dev/null || \
	   { [ -e $(READY) ] && [ "$$(cat $(READY))" != "$(CURDIR)" ]; }; then \
	  echo "setting up $(VENV) (first time: some minutes)" >&2; \
	  rm -rf $(VENV) && mkdir $(VENV) && touch $(MAKING) || exit 2; \
	  "$$python" -m venv $(VENV) || exit 2; \
	else \
	  echo "bringing $(VENV) up to date" >&2; \
	fi; \
	echo "  $$($(BIN)/python -V): fetching and installing packages, 500 MB if all are new" >&2; \
	if ! $(BIN)/python -m pip install --quiet -c constraints.txt -e '.[dev]'; then \
	  echo "The packages could not be installed; 'make' again tries anew." >&2; exit 2; \
	fi; \
	rm -f $(MAKING); echo "$(CURDIR)" > $(READY); \
	echo "  $(VENV) is ready" >&2
