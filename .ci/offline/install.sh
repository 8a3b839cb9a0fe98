#!/bin/sh
# Installs o2sim from this folder, without a network: sh install.sh [FOLDER], by default into o2sim in your home.
# PYTHON=/path/to/python3 says which Python to use.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
target=${1:-$HOME/o2sim}
unset PYTHONPATH PYTHONHOME

if [ -z "${PYTHON:-}" ]; then
    PYTHON=$(command -v python@PYTHON@ || command -v python3) || {
        echo "FAILED: found no Python; o2sim from this folder needs Python @PYTHON@: install it first" >&2
        exit 1
    }
fi
found=$("$PYTHON" -c 'import sys; print("%d.%d" % sys.version_info[:2])') || exit 1
if [ "$found" != "@PYTHON@" ]; then
    echo "FAILED: found Python $found ($PYTHON); this folder is for Python @PYTHON@" >&2
    exit 1
fi
if [ -e "$target" ] && [ ! -f "$target/pyvenv.cfg" ]; then
    echo "FAILED: $target is there already, and o2sim is not installed in it; name another folder" >&2
    exit 1
fi

"$PYTHON" -m venv "$target" || {
    echo "FAILED: no folder for it could be made; some systems want the package python3-venv first" >&2
    exit 1
}
# Only what is in this folder is installed, and only if it is what was put there.
PIP_CONFIG_FILE=/dev/null "$target/bin/python" -m pip --isolated --disable-pip-version-check install --quiet --no-compile \
    --no-index --find-links "$here/wheels" --require-hashes --requirement "$here/requirements.txt" || {
    echo "FAILED: o2sim is not installed; if a file does not match its hash, copy the folder again" >&2
    exit 1
}
"$target/bin/python" "$here/check.py"
echo "Start it with: $target/bin/o2sim"
