#!/bin/sh
# Writes the three lock files anew from pyproject.toml: exact versions and hashes, no address of any registry.
# Needs `uv` on the path or in .venv (pip install uv); used by `make locks`, never by a build.
set -eu
cd "$(dirname "$0")/.."
uv=$(command -v uv || true)
[ -x .venv/bin/uv ] && uv=.venv/bin/uv
if [ -z "$uv" ]; then
    echo "make locks needs uv; install it with: .venv/bin/pip install uv"
    exit 1
fi

lock() { # lock FILE TITLE ARGUMENTS: what the title says, then what uv resolved
    file=$1 title=$2
    shift 2
    "$uv" pip compile --quiet --universal --python-version 3.11 --generate-hashes --upgrade \
        --no-header --no-annotate --no-emit-index-url --no-emit-find-links "$@" >"$file.new"
    { echo "# $title Written by \`make locks\` from pyproject.toml."; cat "$file.new"; } >"$file"
    rm "$file.new"
}

lock requirements.lock "What probewright needs to run, with its extra \`pictures\`." --extra pictures pyproject.toml
lock requirements-build.lock "What builds probewright from a checkout, so that an install fetches nothing else." \
    --constraint requirements.lock --group build
lock requirements-dev.lock "What the tests and checks need." \
    --constraint requirements.lock --constraint requirements-build.lock --group dev
