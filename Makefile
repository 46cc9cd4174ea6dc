# The whole developer interface. `make demo` and `make test` set up what they need.

PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
READY  := $(VENV)/.ready

.PHONY: setup demo test check docs bench calibrate clean

setup: $(READY)

# Everything in one environment, at the versions in constraints.txt.
$(READY): pyproject.toml constraints.txt
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --upgrade pip
	$(BIN)/python -m pip install --quiet --disable-pip-version-check \
	    --constraint constraints.txt --editable '.[all]' --group dev
	touch $@

# The main job on the included, invented example: the page in the terminal, the figure in out/.
demo: $(READY)
	mkdir -p out
	$(BIN)/straypath demo --figure out/demo.png

test: $(READY)
	$(BIN)/python tools/fetch_recordings.py
	$(BIN)/python -m pytest --numprocesses 2 --dist worksteal

check: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-cache
	$(BIN)/python tools/house_rules.py

# Pages and pictures that are made from what the program prints.
docs: $(READY)
	$(BIN)/python tools/write_docs.py

bench: $(READY)
	$(BIN)/python -m benchmarks

calibrate: $(READY)
	$(BIN)/python -m calibration

clean:
	rm -rf $(VENV) out build dist .mypy_cache .ruff_cache .pytest_cache .hypothesis
