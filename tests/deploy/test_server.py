"""The files of a server do what they say: units, the web server, install and update."""

from __future__ import annotations

import http.client
import os
import re
import shutil
import socket
import string
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from tests.deploy.scripts import COMPILED, ROOT, open_folder, run, settings_file
from tests.faults.server import Server, free_port

pytestmark = pytest.mark.on_sqlite
DEPLOY = ROOT / "deploy"
UNITS = sorted([*DEPLOY.glob("*.service"), *DEPLOY.glob("*.timer")])
SERVICE = 12_345
TOKEN = "t" * 32
LINE = "----line"


def nginx() -> str:
    found = shutil.which("nginx", path=f"{os.environ['PATH']}:/usr/sbin")
    if found is None:
        if os.environ.get("ORCHARD_ALL_PARTS"):
            pytest.fail("nginx is missing")
        pytest.skip("nginx is missing")
    return found


class Unit:
    """The unit of the book: what it runs, and in which surroundings."""

    def __init__(self) -> None:
        self.lines = (DEPLOY / "orchard.service").read_text().splitlines()

    def values(self, name: str) -> list[str]:
        start = f"{name}="
        return [line[len(start) :] for line in self.lines if line.startswith(start)]

    def command(self, socket_path: Path) -> list[str]:
        """Return what it starts, by the interpreter and at the place of a test."""
        [line] = self.values("ExecStart")
        program, *words = line.split()
        assert program == "/srv/orchard/.venv/bin/gunicorn"
        place = "unix:/run/orchard/app.sock"
        assert place in words
        moved = [f"unix:{socket_path}" if word == place else word for word in words]
        return [sys.executable, "-m", "gunicorn", *moved]


class UnixConnection(http.client.HTTPConnection):
    def __init__(self, path: Path) -> None:
        super().__init__("orchard.example.org", timeout=30)
        self.path = str(path)

    def connect(self) -> None:
        self.sock = socket.socket(socket.AF_UNIX)
        self.sock.settimeout(30)
        self.sock.connect(self.path)


def ask(connection, method, path, body=None, headers=None):
    connection.request(method, path, body, headers or {})
    answer = connection.getresponse()
    return answer, answer.read()


@pytest.fixture(scope="module")
def served(django_db_setup):
    """The book as its unit starts it: a user of its own, no rights, a socket."""
    with open_folder() as place:
        yield from started(Server(place / "data", "sqlite"))


def started(server: Server) -> Iterator[Server]:
    world = server.seed(people=1, trees=1)
    server.collect_statics()
    place = server.folder
    (place / "photos").unlink()
    server.photos.rename(place / "photos")
    (place / "run").mkdir()
    os.umask(0o022)
    env_file = settings_file(
        place,
        DATABASE_URL=server.url,
        SECRET_KEY="only-for-tests",
        HTTPS="True",
        ALLOWED_HOSTS="orchard.example.org",
        CSRF_TRUSTED_ORIGINS="https://orchard.example.org",
        TRUSTED_PROXIES="1",
        PHOTO_REDIRECT="/allowed-photos/",
    )
    lines = [line.split("=", 1) for line in env_file.read_text().splitlines()[2:]]
    surroundings = dict(lines) | {
        "PATH": os.environ["PATH"],
        "HOME": str(place),
        **COMPILED,
    }
    del surroundings["SECRET_KEY_FILE"]
    unit = Unit()
    command = unit.command(place / "run" / "app.sock")
    if os.geteuid() == 0:
        for path in (place, *place.rglob("*")):
            os.chown(path, SERVICE, SERVICE)
        command = [
            *("setpriv", f"--reuid={SERVICE}", f"--regid={SERVICE}", "--clear-groups"),
            *("--no-new-privs", "--bounding-set=-all", "--", *command),
        ]
    log = (place / "server.log").open("ab")
    process = subprocess.Popen(
        command,
        cwd=ROOT,
        env=surroundings,
        stdout=log,
        stderr=log,
        umask=int(unit.values("UMask")[0], 8),
    )
    server.socket = place / "run" / "app.sock"
    try:
        for _ in range(300):
            if server.socket.exists() or process.poll() is not None:
                break
            time.sleep(0.1)
        assert process.poll() is None, (place / "server.log").read_text()[-3000:]
        server.session = world["people"][0]["session"]
        yield server
    finally:
        process.terminate()
        process.wait(30)
        log.close()
        server.close()


@contextmanager
def web_server(served, folder: Path):
    """Run the web server with our file, at ports of its own, without certificates."""
    program = nginx()
    plain, secure = free_port(), free_port()
    text = (DEPLOY / "nginx.conf").read_text()
    text = re.sub(r"(?m)^\s*listen \[::\].*\n", "", text)
    text = text.replace("listen 80;", f"listen 127.0.0.1:{plain};")
    text = text.replace("listen 443 ssl http2;", f"listen 127.0.0.1:{secure};")
    text = text.replace("/run/orchard/app.sock", str(served.socket))
    text = text.replace("/var/lib/orchard", str(served.folder))
    # To nginx this line is not encrypted, as it is to a browser on a server.
    text = text.replace("X-Forwarded-Proto $scheme", "X-Forwarded-Proto https")
    temporary = "".join(
        f"{kind}_temp_path {folder}/{kind};\n"
        for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    user = "user root;\n" if os.geteuid() == 0 else ""
    conf = folder / "nginx.conf"
    conf.write_text(
        f"{user}daemon off;\npid {folder}/pid;\nerror_log {folder}/error.log;\n"
        f"events {{}}\nhttp {{\ntypes {{ image/jpeg jpg; }}\naccess_log off;\n"
        f"{temporary}{text}\n}}\n"
    )
    process = subprocess.Popen([program, "-c", str(conf), "-p", str(folder)])
    try:
        for _ in range(100):
            with suppress(OSError):
                socket.create_connection(("127.0.0.1", secure), 1).close()
                break
            time.sleep(0.1)
        yield plain, secure
    finally:
        process.terminate()
        process.wait(30)


def test_the_book_runs_as_its_unit_starts_it(served):
    secure = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "198.51.100.7"}
    connection = UnixConnection(served.socket)
    answer, body = ask(connection, "GET", "/up/")
    assert (answer.status, body) == (200, b"ok\n")
    answer, body = ask(connection, "GET", "/sign-in/")
    # Only https, whatever the web server before it lets through.
    assert answer.status == 301
    assert answer.headers["Location"] == "https://orchard.example.org/sign-in/"
    answer, body = ask(connection, "GET", "/sign-in/", headers=secure)
    assert answer.status == 200
    assert "max-age=" in answer.headers["Strict-Transport-Security"]
    # What it writes is its own and no stranger's.
    written = list(served.folder.glob("faults.sqlite3*"))
    assert written
    for path in written:
        state = path.stat()
        assert os.geteuid() != 0 or state.st_uid == SERVICE
    # The web server is another user.
    assert served.socket.stat().st_mode & 0o777 == 0o777


def test_the_web_server_sends_what_the_book_allows_and_guards_it(served, tmp_path):
    out = BytesIO()
    Image.new("RGB", (60, 40), "olive").save(out, "JPEG")
    cookie = f"sessionid={served.session}; csrftoken={TOKEN}"
    head = {"Host": "orchard.example.org", "Cookie": cookie}
    sent = {
        **head,
        "X-CSRFToken": TOKEN,
        "Referer": "https://orchard.example.org/",
        "Content-Type": f"multipart/form-data; boundary={LINE}",
    }
    part = (
        f'--{LINE}\r\nContent-Disposition: form-data; name="photos";'
        ' filename="a.jpg"\r\n\r\n'
    ).encode()
    body = part + out.getvalue() + f"\r\n--{LINE}--\r\n".encode()
    with web_server(served, tmp_path) as (plain, secure):
        connection = http.client.HTTPConnection("127.0.0.1", plain, timeout=30)
        answer, _body = ask(connection, "GET", "/alderbrook/?a=b", headers=head)
        assert answer.status == 301
        assert (
            answer.headers["Location"] == "https://orchard.example.org/alderbrook/?a=b"
        )
        connection = http.client.HTTPConnection("127.0.0.1", secure, timeout=30)
        answer, _body = ask(connection, "POST", "/alderbrook/strays/", body, sent)
        assert answer.status == 302
        answer, page = ask(connection, "GET", "/alderbrook/strays/", headers=head)
        photo = re.search(rb'"(/alderbrook/photos/[\w-]+/\w+/)"', page)[1].decode()
        answer, body = ask(connection, "GET", photo, headers=head)
        assert answer.status == 200
        assert answer.headers["Content-Type"] == "image/jpeg"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Content-Security-Policy"] == "default-src 'none'"
        assert "private" in answer.headers["Cache-Control"]
        assert Image.open(BytesIO(body)).size == (60, 40)
        # By its path alone nobody gets one, nor who is not signed in.
        [file] = (served.folder / "photos").glob("*/*/small.jpg")
        inside = file.relative_to(served.folder / "photos")
        answer, _body = ask(
            connection, "GET", f"/allowed-photos/{inside}", headers=head
        )
        assert answer.status == 404
        stranger = {"Host": "orchard.example.org"}
        answer, _body = ask(connection, "GET", photo, headers=stranger)
        assert answer.status == 302
        # A photo as large as the book takes passes; what is far larger is refused here.
        big = b"x" * (31 * 1024 * 1024)
        with suppress(OSError):
            answer, _body = ask(connection, "POST", "/alderbrook/strays/", big, sent)
            assert answer.status == 413
        answer, _body = ask(
            http.client.HTTPConnection("127.0.0.1", secure, timeout=30),
            "GET",
            "/static/img/favicon.svg",
            headers=stranger,
        )
        if answer.status == 200:
            assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_systemd_understands_every_unit(tmp_path):
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd is missing")
    for unit in UNITS:
        text = unit.read_text()
        text = text.replace("/srv/orchard/.venv/bin/gunicorn", "/bin/true")
        text = text.replace("/srv/orchard/.venv/bin/python", "/bin/true")
        (tmp_path / unit.name).write_text(text)
    templates = [name for name in UNITS if "@" in name.name]
    names = [unit.name for unit in UNITS if unit not in templates]
    ran = subprocess.run(
        ["systemd-analyze", "verify", *(str(tmp_path / name) for name in names)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "SYSTEMD_UNIT_PATH": f"{tmp_path}:"},
    )
    ours = [line for line in ran.stderr.splitlines() if "orchard" in line]
    assert ours == []


@pytest.mark.parametrize("name", ["orchard.service", "orchard-nightly.service"])
def test_a_unit_has_limits_and_few_rights(name):
    text = (DEPLOY / name).read_text()
    for line in ("MemoryMax=", "NoNewPrivileges=true", "ProtectSystem=strict",
                 "CapabilityBoundingSet=\n", "SystemCallFilter=@system-service",
                 "OnFailure=orchard-failed@%n.service"):  # fmt: skip
        assert line in text
    if shutil.which("systemd-analyze") is None:
        return
    ran = subprocess.run(
        [*("systemd-analyze", "security", "--offline=true"), str(DEPLOY / name)],
        capture_output=True,
        text=True,
        check=False,
    )
    [level] = re.findall(r"Overall exposure level for \S+: ([\d.]+)", ran.stdout)
    # By systemd's own measure, from 0 (safe) to 10; one without any of it has 9.
    assert float(level) < 3


def test_a_worker_does_not_live_for_ever():
    [line] = Unit().values("ExecStart")
    assert re.search(r"--max-requests \d+ --max-requests-jitter \d+", line)


def test_a_server_set_up_by_the_file_passes_djangos_own_check(tmp_path):
    example = (DEPLOY / "env.example").read_text()
    values = dict(re.findall(r"^([A-Z_]+)=(.*)$", example, re.M))
    values |= {"DATA_DIR": str(tmp_path), "SECRET_KEY": string.ascii_letters}
    del values["SECRET_KEY_FILE"]
    ran = subprocess.run(
        [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"],
        cwd=ROOT,
        env={"PATH": os.environ["PATH"], **COMPILED, **values},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    assert "WARNING" not in ran.stdout + ran.stderr


@pytest.mark.skipif(os.geteuid() != 0, reason="Only root installs.")
def test_installing_twice_changes_nothing_and_updating_backs_up(tmp_path):
    with open_folder() as folder:
        _install_twice(folder)


def _install_twice(tmp_path: Path) -> None:
    user = "nobody"
    place = {
        "ORCHARD_USER": user,
        "ORCHARD_READERS": "www-data",
        "DATA_DIR": str(tmp_path / "data"),
        "ORCHARD_BACKUPS": str(tmp_path / "backups"),
    }
    env_file = tmp_path / "orchard.env"
    first = run("install", "--no-units", env_file=env_file, **place)
    assert first.returncode == 0, first.stdout + first.stderr
    assert "Fill in" in first.stdout
    assert "The book is up to date." in first.stdout
    data = tmp_path / "data"
    assert data.stat().st_mode & 0o7777 == 0o751
    assert (data / "photos").stat().st_mode & 0o7777 == 0o2750
    assert (data / "secret-key").stat().st_mode & 0o7777 == 0o600
    assert len((data / "secret-key").read_text()) >= 50
    assert env_file.stat().st_mode & 0o7777 == 0o640
    assert any((data / "static").glob("css/*.css"))
    before = {
        path: (path.stat().st_mode, path.stat().st_uid, path.read_bytes())
        for path in (data / "secret-key", env_file)
    }
    second = run("install", "--no-units", env_file=env_file, **place)
    assert second.returncode == 0, second.stdout + second.stderr
    assert "Fill in" not in second.stdout
    for path, state in before.items():
        assert (path.stat().st_mode, path.stat().st_uid, path.read_bytes()) == state
    # Without an orchard there is nothing to lose, and so nothing is updated unseen.
    update = run("update", "--no-units", env_file=env_file, **place)
    assert update.returncode != 0
    assert "There is no orchard" in update.stderr
