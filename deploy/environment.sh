# Sourced by deploy/start and deploy/test: finds Python and keeps the virtual environment in step with the lock.
# shellcheck shell=sh

stop() {
    printf '%s\n' "$1" >&2
    exit 1
}

# try_python PROGRAM: 0 when it is 3.11 or newer and can make a virtual environment, 2 when only venv is missing.
try_python() {
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1 || return 1
    "$1" -c 'import ensurepip, venv' >/dev/null 2>&1 || return 2
}

# Sets $python to the program to build with, or stops with one sentence.
find_python() {
    without_venv=
    if [ -n "${PYTHON:-}" ]; then
        try_python "$PYTHON" && { python=$PYTHON; return; }
        [ $? -eq 2 ] || stop "PYTHON names $PYTHON, which is not a Python 3.11 or newer."
        without_venv=$PYTHON
    else
        for candidate in python3 python3.14 python3.13 python3.12 python3.11; do
            try_python "$candidate" && { python=$candidate; return; }
            [ $? -eq 2 ] && [ -z "$without_venv" ] && without_venv=$candidate
        done
    fi
    if [ -n "$without_venv" ]; then
        version=$("$without_venv" -c 'import sys; print("%d.%d" % sys.version_info[:2])')
        stop "$without_venv lacks the venv module. On Debian or Ubuntu install the package python$version-venv, then run this again."
    fi
    stop "Python 3.11 or newer was not found. Install it (on Debian or Ubuntu: python3 and python3-venv), or name it with PYTHON=/path/to/python3."
}

# install_lock FILE STAMP: installs the hashed lock unless the copy kept as STAMP says it is in place already.
# The copy is written last, so an install that was cut off is done again.
install_lock() {
    if [ -x .venv/bin/python ] && cmp -s "$1" ".venv/$2" && .venv/bin/python -c 'import django' >/dev/null 2>&1; then
        return
    fi
    if ! .venv/bin/python -c 'import pip' >/dev/null 2>&1; then
        find_python
        printf 'Making the virtual environment in .venv with %s.\n' "$python"
        "$python" -m venv --clear .venv || stop "The virtual environment could not be made in $(pwd)/.venv: see the lines above."
    fi
    printf 'Installing the packages of %s.\n' "$1"
    # --no-deps: the lock names every package already, so nothing is left to look for.
    .venv/bin/python -m pip install --quiet --quiet --disable-pip-version-check --no-input \
        --require-hashes --only-binary :all: --no-deps -r "$1" ||
        stop "The packages could not be installed: see the lines above. Check the connection, then run this again."
    cp "$1" ".venv/$2"
}
