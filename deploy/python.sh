# Sourced by try and test: a virtual environment of our own from a locked list.
# Needs the system's Python 3.11 or newer; says in words what is missing.

# pythons: the paths of those that will do, the best first. The system's own is kept up
# to date with it, and is a fifth faster than one compiled by hand without much thought.
pythons() {
    for candidate in ${PYTHON:-} /usr/bin/python3 python3 python3.13 python3.12 python3.11 python3.14; do
        if command -v "$candidate" >/dev/null 2>&1 &&
            "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
        then
            command -v "$candidate"
        fi
    done
}

may_install() {
    command -v apt-get >/dev/null 2>&1 && [ "$(id -u)" = 0 ]
}

# install_packages NAME...: by the system's package manager, when it may
install_packages() {
    may_install || return 1
    if [ -z "${APT_LISTS_FRESH:-}" ]; then
        apt-get update -qq >/dev/null 2>&1 || true
        APT_LISTS_FRESH=1
    fi
    PATH=$PATH:/usr/sbin:/sbin DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
        -o DPkg::Lock::Timeout=300 "$@" \
        >/dev/null 2>&1
}

# make_venv: an empty environment in .venv, by the first Python that can
make_venv() {
    candidates=$(pythons)
    if [ -z "$candidates" ]; then
        echo "No Python 3.11 or newer here. Install one, or set PYTHON to its path." >&2
        return 1
    fi
    for python in $candidates; do
        "$python" -m venv .venv 2>/dev/null && return 0
        rm -rf .venv
        # Debian has a part of it in a package of its own.
        if [ "$python" = /usr/bin/python3 ] && install_packages python3-venv &&
            "$python" -m venv .venv
        then
            return 0
        fi
    done
    echo "Python's venv module is missing. Install it (Debian: python3-venv)." >&2
    return 1
}

# make_environment LOCK: an environment in .venv that holds what LOCK names
make_environment() {
    lock=$1
    [ -n "$lock" ] || return 1
    stamp=.venv/.holds-$(basename "$lock" .txt)
    if [ -x .venv/bin/python ] && cmp -s "$lock" "$stamp" 2>/dev/null; then
        return 0
    fi
    if [ ! -x .venv/bin/pip ]; then make_venv || return 1; fi
    echo "Installing what $(basename "$lock" .txt) needs into .venv (once) ..."
    .venv/bin/python -m pip install -q --disable-pip-version-check --no-input \
        --require-hashes -r "$lock" || return 1
    cp "$lock" "$stamp"
}
