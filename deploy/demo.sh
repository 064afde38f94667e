#!/bin/sh
# The demonstration: broker, simulated gateway and agent on this machine, shown in this terminal.
#   sh deploy/demo.sh              # until Ctrl-C
#   sh deploy/demo.sh --for 120    # for 120 seconds, then a summary
set -eu
cd "$(dirname "$0")/.."
. deploy/venv.sh
make_venv demo demo
exec "$venv/bin/python" deploy/demo.py "$@"
