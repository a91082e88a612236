#!/bin/sh
# A throw-away PostgreSQL for tests:
#   find | start DIR PORT [OPTIONS] | stop DIR | restart DIR | copy ADDRESS ADDRESS
# (a restart is a crash: nothing is written down first)
set -eu
# What a server needs often lies where only administrators look.
PATH=${PATH:-/usr/bin:/bin}:/usr/local/sbin:/usr/sbin:/sbin
bin=$(ls -d /usr/lib/postgresql/*/bin 2>/dev/null | sort -V | tail -n 1)
[ -n "$bin" ] || bin=$(dirname "$(command -v initdb)")
dir=${2:-}
if [ "$(id -u)" = 0 ]; then as="runuser -u postgres --"; else as=""; fi
case $1 in
find) ls "$bin/initdb" ;;
start)
    mkdir -p "$dir"
    if [ "$(id -u)" = 0 ]; then chown postgres: "$dir"; fi
    chmod 700 "$dir"
    [ -f "$dir/data/PG_VERSION" ] || $as "$bin/initdb" -D "$dir/data" -A trust \
        -U postgres -E UTF8 --locale=C.UTF-8 -N >/dev/null
    $as "$bin/pg_ctl" -D "$dir/data" -l "$dir/log" -w -s -o "-c listen_addresses=127.0.0.1 \
-p $3 -k $dir -c fsync=off -c synchronous_commit=off -c full_page_writes=off ${4:-}" start
    ;;
stop) $as "$bin/pg_ctl" -D "$dir/data" -m immediate -w -s stop ;;
restart) $as "$bin/pg_ctl" -D "$dir/data" -l "$dir/log" -m immediate -w -s restart ;;
# What one database holds comes into another that is empty.
copy) "$bin/pg_dump" --no-owner -d "$2" | "$bin/psql" -q -X -v ON_ERROR_STOP=1 -d "$3" >/dev/null ;;
*) echo "postgres.sh find | start | stop | restart | copy: see its head" >&2; exit 2 ;;
esac
