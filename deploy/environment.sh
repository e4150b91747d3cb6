# Sourced by the other scripts: makes the virtual environment .venv and installs one set of extras into it.
# Needs only Python 3.11 or newer with venv, and a package registry.

find_python() {
    for name in "${PYTHON:-}" python3 python3.14 python3.13 python3.12 python3.11 python; do
        [ -n "$name" ] && command -v "$name" >/dev/null 2>&1 || continue
        if "$name" -c 'import sys, venv; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            echo "$name"
            return 0
        fi
    done
    echo "Buildmoot needs Python 3.11 or newer with the venv module; none was found on the PATH." >&2
    return 1
}

make_environment() { # $1: extras, such as test
    if [ ! -x .venv/bin/python ]; then
        python=$(find_python) || return 1
        echo "Making the environment .venv with $python" >&2
        "$python" -m venv .venv || return 1
    fi
    stamp=".venv/installed-$1"
    if [ ! -f "$stamp" ] || ! cmp -s pyproject.toml "$stamp"; then
        echo "Installing what is needed (once; a minute or two)" >&2
        .venv/bin/python -m pip install --quiet --disable-pip-version-check --editable ".[$1]" || return 1
        cp pyproject.toml "$stamp"
    fi
    # As an installer does for an installed package; an editable one would be compiled anew at every start where
    # writing bytecode is switched off.
    .venv/bin/python -m compileall -q bot engine migrations
}
