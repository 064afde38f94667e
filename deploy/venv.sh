# Sourced by the scripts beside it: makes the virtual environment .venv/NAME with the extras wanted.
# Needs only Python 3.11 or newer with venv and pip. Uses it again while nothing that it was made from changed.
# usage: make_venv NAME EXTRAS   (from the checkout's root); sets $venv

find_python() {
    for candidate in "${PYTHON:-}" python3 python3.13 python3.12 python3.11 python; do
        [ -n "$candidate" ] || continue
        if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            printf '%s' "$candidate"
            return
        fi
    done
    echo "Python 3.11 or newer is needed and was not found; name it with PYTHON=/path/to/python3" >&2
    exit 2
}

make_venv() {
    venv="$PWD/.venv/$1"
    made_from=$(cat pyproject.toml deploy/constraints.txt | cksum)
    if [ -f "$venv/made-from" ] && [ "$(cat "$venv/made-from")" = "$made_from" ]; then
        return
    fi
    python=$(find_python) || exit 2
    echo "Setting up $venv (the first time takes a minute or two) ..." >&2
    rm -rf "$venv"
    "$python" -m venv "$venv"
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check \
        --constraint deploy/constraints.txt --editable ".[$2]" >&2
    printf '%s' "$made_from" >"$venv/made-from"
}
