# One word a job; .ci/run does them all on a clean checkout.
PYTHON := .venv/bin/python
ALL_PROCESSORS := -n auto

.PHONY: set-up check quick slow long

set-up:
	python3 -m venv .venv && .venv/bin/pip install -e '.[test]'

check:
	.venv/bin/ruff check . && .venv/bin/ruff format --check . && .venv/bin/mypy && .venv/bin/lint-imports
	.venv/bin/troubleshoot rules check

quick:
	$(PYTHON) -m pytest $(ALL_PROCESSORS)

slow:
	$(PYTHON) -m pytest $(ALL_PROCESSORS) -m slow

long:
	$(PYTHON) -m pytest $(ALL_PROCESSORS) -m long
