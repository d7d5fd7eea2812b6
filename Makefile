# make demo   from a fresh clone to a located fault      make check    what the build machine checks, and more
# make test   all tests                                  make format   lay the code out
# make bench  the figures of the house, as measured here make locks    new lock files from pyproject.toml
# make pictures   the pictures of docs/bench-page.md anew
# make soak   200 kills while readings are stored: is one lost?
# make campaign  rehearsals with hidden faults, hours; what was ended goes on
# `make PYTHON=python3.12 demo` chooses another interpreter for a new .venv.

SHELL := /bin/sh
.SUFFIXES:
.PHONY: help demo test check bench campaign pictures soak format locks install develop
MAKEFLAGS += --no-print-directory
export PYTHON

help:
	@sed -n 's/^# \(.*make .*\)/\1/p' Makefile

demo: install
	@.venv/bin/probewright demo

test: develop
	@tools/system_tools.sh
	@.venv/bin/python tools/run_tests.py

check: develop
	@.venv/bin/ruff format --check --quiet . || { echo "the lines above are laid out otherwise; run: make format"; exit 1; }
	@.venv/bin/ruff check --quiet .
	@.venv/bin/mypy --no-error-summary
	@.venv/bin/lint-imports --no-logo >.venv/rooms.log || { cat .venv/rooms.log; exit 1; }
	@tools/system_tools.sh
	@.venv/bin/python tools/run_tests.py -W error --doctest-modules src tests

bench: develop
	@tools/system_tools.sh
	@.venv/bin/python -m benchmarks

pictures: develop
	@tools/system_tools.sh
	@PROBEWRIGHT_PICTURES=1 .venv/bin/python tools/run_tests.py tests/browser/test_pictures.py

campaign: install
	@.venv/bin/python -m benchmarks.campaign

soak: install
	@.venv/bin/python -m benchmarks.soak_record

format: develop
	@.venv/bin/ruff check --quiet --fix-only .
	@.venv/bin/ruff format --quiet .

locks:
	@tools/make_locks.sh

install:
	@tools/install.sh

develop:
	@tools/install.sh dev
