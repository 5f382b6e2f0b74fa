SHELL := /bin/bash
BIN := .venv/bin
PORT ?= 8000
ADDRESS ?= 127.0.0.1
# Fenced off so that tests never see the addresses of an office's own data.
EMBEDDED := env -u DATABASE_URL -u REDIS_URL

.PHONY: help setup setup-browser demo start lint unit browser test test-services faults-long benchmarks backup lock clean
.DEFAULT_GOAL := help

help: ## this text
	@echo "Heelin: a boarding and care ledger for customers' trees."
	@echo
	@echo "  Look round an invented nursery full of trees:    make demo"
	@echo "  Start your own nursery, empty:                   make start"
	@echo
	@echo "Both install what they need, keep their data in .var/ and stop with Ctrl-C. Another port: PORT=8080."
	@echo "For the phones in the house: ADDRESS=192.0.2.10, this machine's own; see README.md."
	@echo "After 'make start' open the address it prints: the first page asks for your name and your nursery."
	@echo
	@echo "All commands:"
	@grep -E '^[a-z-]+:.*##' Makefile | sed -E 's/:.*## /\t/' | awk -F'\t' '{printf "  make %-15s %s\n", $$1, $$2}'

setup: ## system libraries where missing, .venv, locked packages
	@bash .ci/bootstrap.sh

setup-browser:
	@WANT_BROWSER=1 bash .ci/bootstrap.sh

demo: setup ## the demo nursery in the browser; data is kept between starts
	@export DATABASE_URL=$${DATABASE_URL:-sqlite:///.var/demo.sqlite3}; \
	$(BIN)/python manage.py migrate --verbosity 0 && \
	$(BIN)/python manage.py demo_nursery --if-empty && \
	exec $(BIN)/python manage.py serve --host $(ADDRESS) --port $(PORT)

start: setup ## your own nursery, empty at first
	@$(BIN)/python manage.py migrate --verbosity 0 && \
	$(BIN)/python manage.py load_reference && \
	exec $(BIN)/python manage.py serve --host $(ADDRESS) --port $(PORT)

lint: setup ## form, types, import direction, forgotten migrations
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(EMBEDDED) DJANGO_SETTINGS_MODULE=nursery.settings.testing $(BIN)/python manage.py makemigrations --check --dry-run

unit: setup
	$(EMBEDDED) $(BIN)/pytest -q -n 2 --ignore=tests/browser --ignore=tests/services

browser: setup-browser
	$(EMBEDDED) TEST_DATABASE_NAME=.var/browser_test.sqlite3 $(BIN)/pytest -q -n 2 tests/browser --liveserver 127.0.0.1

test: setup-browser ## everything that needs no server: lint, tests, browser tests
	@$(MAKE) --no-print-directory lint
	@$(MAKE) --no-print-directory unit
	@$(MAKE) --no-print-directory browser

test-services: setup ## constraints, actions and faults on PostgreSQL and Redis (DATABASE_URL, REDIS_URL)
	@: $${DATABASE_URL:?set DATABASE_URL to a PostgreSQL server, e.g. postgresql://user@127.0.0.1:5432/postgres}
	@: $${REDIS_URL:?set REDIS_URL to a Redis server, e.g. redis://127.0.0.1:6379/9}
	SERVICES=1 $(BIN)/pytest -q

faults-long: setup ## kill -9 and outages, by the hour
	LONG_FAULTS=1 $(BIN)/pytest -q tests/faults
	@if [ -n "$$REDIS_URL" ]; then SERVICES=1 LONG_FAULTS=1 $(BIN)/pytest -q tests/services/*_killed.py; fi

benchmarks: setup ## cost of the main pages, documents and sweeps
	$(EMBEDDED) $(BIN)/pytest -q -s tests/benchmarks

backup: setup ## copy the database and the kept files to .var/backups, while people work
	@$(BIN)/python manage.py back_up

lock: ## write requirements.lock anew from pyproject.toml
	$(BIN)/pip-compile -q --generate-hashes --strip-extras --no-emit-index-url --no-emit-find-links \
	  --no-emit-options --no-header --no-annotate --allow-unsafe --extra test --extra dev \
	  --output-file requirements.lock pyproject.toml
	@echo "Written. 'make setup' installs it."

clean: ## remove .venv and caches; the data in .var stays
	rm -rf .venv .venv.lock .cache
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
