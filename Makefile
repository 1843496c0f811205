# Everything from a checkout: each target sets up what it needs and is quick when that is there already.
#
#   PYTHON=python3.12   make the virtual environment with this interpreter (3.11 or newer)
#   VENV=folder         keep the virtual environment there instead of in .venv
#   ARGS="..."          options for parchd demo, for pytest or for a benchmark
#   WITHOUT="influxd"   leave out the tests that need these programs

PYTHON ?= python3
VENV ?= .venv
ARGS ?=
WITHOUT ?=
WORKERS ?= 2

BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --no-input
APT_INSTALL := apt-get install --no-install-recommends
LEFT_OUT := $(addprefix --without ,$(WITHOUT))

.PHONY: help demo test check lint types words programs bench year lock clean

help:
	@echo "make demo    start the daemon on a simulated farm; Ctrl-C ends it"
	@echo "make test    install what the tests need and run them all"
	@echo "make check   the quick part: style, types, unit tests"
	@echo "make bench   measure and print"
	@echo "make year    live through a simulated year of a farm and print what people were told (ten minutes)"
	@echo "make words   bring the catalogues of translations up to date with the code"
	@echo "make lock    choose the versions in requirements.lock anew"
	@echo "make clean   remove everything that was made here"

demo: $(VENV)/.has-demo
	@$(BIN)/parchd demo $(ARGS)

test: $(VENV)/.has-dev programs lint types
	$(BIN)/pytest -n $(WORKERS) --cov --cov-report=term $(LEFT_OUT) $(ARGS)

check: $(VENV)/.has-dev lint types
	$(BIN)/pytest -n $(WORKERS) $(LEFT_OUT) tests/unit daemon adapters $(ARGS)

lint: $(VENV)/.has-dev
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/lint-imports

types: $(VENV)/.has-dev
	$(BIN)/mypy

words: $(VENV)/.has-dev
	@$(BIN)/python -m parchd.words.gather

bench: $(VENV)/.has-dev programs
	@set -e; for file in tests/benchmarks/bench_*.py; do echo "== $$file"; $(BIN)/python "$$file" $(ARGS); done

year: $(VENV)/.has-dev
	$(BIN)/python -m parchd.testing.year_report

# The programs that tests start. tests/conftest.py knows their packages, the marks in the tests say which are needed.
programs: $(VENV)/.has-dev
	@missing="$$($(BIN)/python tests/missing_programs.py $(LEFT_OUT))"; \
	test -n "$$missing" || exit 0; \
	if [ "$$(id -u)" -ne 0 ]; then \
	    echo "Some tests start programs that are not installed here. Install them, then repeat:" >&2; \
	    echo "    sudo $(APT_INSTALL) $$missing" >&2; \
	    echo "or leave their tests out: make test WITHOUT=\"names as in tests/conftest.py\"" >&2; \
	    exit 1; \
	fi; \
	echo "Installing $$missing"; \
	apt-get update -q && DEBIAN_FRONTEND=noninteractive $(APT_INSTALL) -y -q $$missing

# requirements.lock holds names, versions and hashes, never an address. uv's own lock file does, so it is not kept.
lock: $(VENV)/.has-dev
	$(PIP) install --quiet uv
	$(BIN)/uv export --quiet --upgrade --no-header --no-annotate --no-emit-project --no-default-groups \
	    --output-file requirements.lock
	rm -f uv.lock

clean:
	rm -rf $(VENV) build dist uv.lock .coverage .coverage.* htmlcov benchmark-results
	rm -rf .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
	find daemon adapters tests -name __pycache__ -type d -prune -exec rm -rf {} +

$(VENV)/.has-demo: pyproject.toml $(VENV)/.made
	@echo "Installing parchd and its libraries (once; a few minutes on a small board)"
	@$(PIP) install --quiet --editable '.[demo]'
	@touch $@

$(VENV)/.has-dev: pyproject.toml $(VENV)/.made
	@echo "Installing parchd with the tools for its tests (once; a few minutes)"
	@$(PIP) install --quiet --upgrade 'pip>=25.1'
	@$(PIP) install --quiet --editable '.[demo]' --group dev
	@touch $@ $(VENV)/.has-demo

# An environment whose Python has gone, as after an upgrade of the system, is made anew.
ifneq ($(shell $(BIN)/python -c 'print("runs")' 2>/dev/null),runs)
.PHONY: $(VENV)/.made
CLEAR := --clear
endif

$(VENV)/.made:
	@$(PYTHON) -c 'pass' 2>/dev/null || { \
	    echo "There is no $(PYTHON) here. parchd needs Python 3.11 or newer:" >&2; \
	    echo "    sudo apt-get install python3 python3-venv" >&2; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	    echo "parchd needs Python 3.11 or newer; $(PYTHON) is $$($(PYTHON) --version 2>&1)." >&2; \
	    echo "If a newer one is installed, name it: make PYTHON=python3.12 ..." >&2; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
	    package="python$$($(PYTHON) -c 'import sys; print("%d.%d" % sys.version_info[:2])')-venv"; \
	    if [ "$$(id -u)" -ne 0 ]; then \
	        echo "$(PYTHON) cannot make virtual environments yet. Install what it lacks, then repeat:" >&2; \
	        echo "    sudo apt-get install $$package" >&2; exit 1; \
	    fi; \
	    apt-get update -q && DEBIAN_FRONTEND=noninteractive $(APT_INSTALL) -y -q "$$package"; }
	@$(PYTHON) -m venv $(CLEAR) $(VENV)
	@touch $@
