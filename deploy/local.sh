# The settings of a book on one's own machine: sourced by deploy/try and deploy/found.
PORT=${PORT:-8000}
DATA_DIR=${DATA_DIR:-$PWD/var}
mkdir -p "$DATA_DIR"
make_environment deploy/requirements/runtime.txt

if [ ! -s "$DATA_DIR/secret-key" ]; then
    (umask 077 && .venv/bin/python -c 'import secrets; print(secrets.token_urlsafe(50))' \
        >"$DATA_DIR/secret-key")
fi
export DATA_DIR SECRET_KEY_FILE="$DATA_DIR/secret-key" HTTPS=False
export ALLOWED_HOSTS="${ALLOWED_HOSTS:-127.0.0.1,localhost}"
export SITE_URL="${SITE_URL:-http://127.0.0.1:$PORT}"

.venv/bin/python manage.py migrate --verbosity 0
