#!/bin/sh
# Makes .venv and puts probewright in it: `tools/install.sh` to run it, `tools/install.sh dev` to test it too.
# Touches nothing outside this folder. Does nothing when what it would install has not changed.
set -eu
cd "$(dirname "$0")/.."
export PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_NO_INPUT=1 PYTHONNOUSERSITE=1
venv_python=.venv/bin/python

new_enough() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; }

usable() { new_enough $venv_python && $venv_python -c 'import pip' >/dev/null 2>&1; }

find_python() {
    for name in ${PYTHON:-python3 python3.14 python3.13 python3.12 python3.11}; do
        if command -v "$name" >/dev/null 2>&1 && new_enough "$name"; then
            echo "$name"
            return
        fi
    done
}

make_venv() {
    python=$(find_python)
    if [ -z "$python" ]; then
        found=$("${PYTHON:-python3}" -V 2>&1) || found="no Python 3"
        echo "probewright needs Python 3.11 or newer and found $found; install python3.11 or newer (or name it: make PYTHON=/path/to/python3)"
        exit 1
    fi
    if ! "$python" -c 'import venv, ensurepip' >/dev/null 2>&1; then
        echo "$("$python" -V) cannot make a virtual environment; install its venv module (Debian, Ubuntu: apt install python3-venv)"
        exit 1
    fi
    if ! "$python" -m venv --clear .venv >.venv.log 2>&1; then
        tail -n 3 .venv.log
        echo "$("$python" -V) could not make .venv; install its venv module (Debian, Ubuntu: apt install python3-venv)"
        rm -f .venv.log
        exit 1
    fi
    rm -f .venv.log
}

install() { # install FILE...: exactly what these lock files say
    for lock in "$@"; do
        $venv_python -m pip install -qq --require-hashes --no-deps -r "$lock" || {
            echo "could not install $lock; see the lines above (a network or package-mirror problem most often), then run make again"
            exit 1
        }
    done
}

# What an install depends on: this folder, the interpreter, the lock files, the project file, the table of browser files.
fingerprint() {
    {
        pwd -P
        $venv_python -c 'import sys; print(sys.version)'
        cat pyproject.toml hatch_build.py "$@"
    } | $venv_python -c 'import hashlib, sys; print(hashlib.sha256(sys.stdin.buffer.read()).hexdigest())'
}

ensure() { # ensure NAME COMMAND FILE...: run COMMAND on the files unless that was done already
    stamp=.venv/installed-$1 command=$2
    shift 2
    now=$(fingerprint "$@")
    [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$now" ] && return
    rm -f "$stamp"
    "$command" "$@"
    echo "$now" >"$stamp"
}

base() {
    install "$@"
    # editable, so that an edit in src is seen at once; built with what the build lock brought, so nothing is fetched
    $venv_python -m pip install -qq --no-deps --no-build-isolation --no-index --editable . || {
        echo "could not install probewright from this folder; see the lines above"
        exit 1
    }
    $venv_python hatch_build.py # pip is quiet: one line when browser files could not be fetched
}

usable || make_venv
ensure base base requirements.lock requirements-build.lock
[ "${1:-}" = dev ] && ensure dev install requirements-dev.lock
exit 0
