# Sourced by try and test: a virtual environment of our own from a locked list.
# Needs the system's Python 3.11 or newer; says in words what is missing.

find_python() {
    for candidate in ${PYTHON:-} python3 python3.13 python3.12 python3.11 python3.14; do
        if command -v "$candidate" >/dev/null 2>&1 &&
            "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
        then
            command -v "$candidate"
            return 0
        fi
    done
    echo "No Python 3.11 or newer here. Install one, or set PYTHON to its path." >&2
    return 1
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

# make_environment LOCK: an environment in .venv that holds what LOCK names
make_environment() {
    lock=$1
    [ -n "$lock" ] || return 1
    python=$(find_python) || return 1
    stamp=.venv/.holds-$(basename "$lock" .txt)
    if [ -x .venv/bin/python ] && cmp -s "$lock" "$stamp" 2>/dev/null; then
        return 0
    fi
    if [ ! -x .venv/bin/pip ]; then
        if ! "$python" -m venv .venv 2>/dev/null; then
            rm -rf .venv
            install_packages python3-venv || {
                echo "Python's venv module is missing. Install it (Debian: python3-venv)." >&2
                return 1
            }
            "$python" -m venv .venv
        fi
    fi
    echo "Installing what $(basename "$lock" .txt) needs into .venv (once) ..."
    .venv/bin/python -m pip install -q --disable-pip-version-check --no-input \
        --require-hashes -r "$lock" || return 1
    cp "$lock" "$stamp"
}
