#!/bin/sh
# Every check and every test. Tests that need mosquitto or Prometheus say so and are skipped without them.
#   sh deploy/test.sh              # all of it
#   sh deploy/test.sh -k piping    # checks, and the tests that pytest's arguments choose
set -eu
cd "$(dirname "$0")/.."
. deploy/venv.sh
make_venv test dev
PATH="$venv/bin:$PATH"
export PATH
ruff check .
ruff format --check --quiet .
mypy
lint-imports --no-cache >/dev/null || lint-imports --no-cache
deptry agent demo_feed
exec pytest "$@"
