# The settings of the book that stands here: sourced by backup, restore and drill.
# A server's are in the file that its unit reads (ORCHARD_ENV, else /etc/orchard.env);
# without one they are those of deploy/try, with the data in var/. What is set already
# counts.
ORCHARD_ENV=${ORCHARD_ENV:-/etc/orchard.env}

# read_settings FILE: lines NAME=value, as systemd reads them
read_settings() {
    if [ ! -r "$1" ]; then
        echo "$1 can't be read by $(id -un). Run this as root, or as the service's user." >&2
        exit 1
    fi
    while IFS= read -r line || [ -n "$line" ]; do
        case $line in '' | '#'* | ';'*) continue ;; esac
        name=${line%%=*}
        value=${line#*=}
        case $name in
        *[!A-Za-z0-9_]* | '' | [0-9]*)
            echo "$1: not a setting: $name" >&2
            exit 1
            ;;
        esac
        case $value in
        \"*\") value=${value#\"} value=${value%\"} ;;
        \'*\') value=${value#\'} value=${value%\'} ;;
        esac
        eval "is_set=\${$name+yes}"
        if [ -z "$is_set" ]; then export "$name=$value"; fi
    done <"$1"
}

if [ -e "$ORCHARD_ENV" ]; then
    read_settings "$ORCHARD_ENV"
else
    DATA_DIR=${DATA_DIR:-$PWD/var}
    HTTPS=${HTTPS:-False}
    if [ -z "${SECRET_KEY:-}" ]; then SECRET_KEY_FILE=${SECRET_KEY_FILE:-$DATA_DIR/secret-key}; fi
    export DATA_DIR HTTPS
    if [ -n "${SECRET_KEY_FILE:-}" ]; then export SECRET_KEY_FILE; fi
fi
python=${ORCHARD_PYTHON:-.venv/bin/python}
