"""Every setting, once, read from the environment. See deploy/env.example."""

from __future__ import annotations

from pathlib import Path

import dj_database_url
from django.utils.translation import gettext_lazy as _

from orchard.env import env_bool, env_int, env_list, env_secret, env_text

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(env_text("DATA_DIR", str(BASE_DIR / "var")))

DEBUG = env_bool("DEBUG", default=False)
SECRET_KEY = env_secret("SECRET_KEY", default="only-for-debugging" if DEBUG else None)
ALLOWED_HOSTS = env_list("ALLOWED_HOSTS", default=["127.0.0.1", "localhost"])
CSRF_TRUSTED_ORIGINS = env_list("CSRF_TRUSTED_ORIGINS", default=[])
SITE_URL = env_text("SITE_URL", "http://127.0.0.1:8000").rstrip("/")

INSTALLED_APPS = [
    "orchard.records",
    "orchard.web",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.gzip.GZipMiddleware",
    "orchard.web.middleware.StylesFirstMiddleware",
    "orchard.web.middleware.ContentSecurityPolicyMiddleware",
    "orchard.web.middleware.PrivateAnswerMiddleware",
    "orchard.web.middleware.ReadableRequestMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

ROOT_URLCONF = "orchard.web.urls"
WSGI_APPLICATION = "orchard.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "orchard.web.context.house",
            ],
        },
    },
]

FORM_RENDERER = "orchard.web.fields.FormRenderer"

# A page asks up to forty kinds of questions, and none is to be read anew each time: of
# the hundred that are usual, those of one page would be pushed out by those of the
# next before they come again. Each connection keeps as many, on either database.
STATEMENTS_KEPT = 512

# An acknowledged record must survive a power cut, hence synchronous=FULL; without
# IMMEDIATE two people saving at once lose half of their writes to a locked database.
SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "cached_statements": STATEMENTS_KEPT,
    "init_command": (
        "PRAGMA journal_mode=WAL;"
        "PRAGMA synchronous=FULL;"
        "PRAGMA cache_size=-8000;"
        "PRAGMA journal_size_limit=27103364;"
        "PRAGMA foreign_keys=ON;"
    ),
}

DATABASE_URL = env_text("DATABASE_URL", f"sqlite:///{DATA_DIR / 'orchard.sqlite3'}")
# A connection that broke since the last request is noticed, and made anew.
DATABASES = {
    "default": dj_database_url.parse(
        DATABASE_URL, conn_max_age=600, conn_health_checks=True
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["OPTIONS"] = SQLITE_OPTIONS
else:
    # One process answers a page: at the size of a book, starting others to help takes
    # longer than what they save, and so does compiling a query, up to two seconds each
    # time. An address may say otherwise by options of its own.
    own = DATABASES["default"].setdefault("OPTIONS", {})
    alone = "-c max_parallel_workers_per_gather=0 -c jit=off"
    own["options"] = f"{alone} {own.get('options', '')}".strip()
    # A question that comes again is neither read nor planned anew, as with SQLite.
    own.setdefault("server_side_binding", True)
    own.setdefault("prepare_threshold", 1)
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "records.User"
PASSWORD_HASHERS = ["orchard.services.accounts.hashing.Argon2Hasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {
        "NAME": "django.contrib.auth.password_validation."
        "UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("email", "name")},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "start"
LOGOUT_REDIRECT_URL = "sign-in"
PASSWORD_RESET_TIMEOUT = 60 * 60 * 24

# A phone stays signed in for a year: nobody looks up a password under a tree.
SESSION_COOKIE_AGE = 60 * 60 * 24 * 365
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"

HTTPS = env_bool("HTTPS", default=not DEBUG)
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SECURE_SSL_REDIRECT = HTTPS
# Asked on the machine itself, past the web server.
SECURE_REDIRECT_EXEMPT = [r"^up/$"]
SECURE_HSTS_SECONDS = env_int("HSTS_SECONDS", default=60 * 60 * 24 * 30 if HTTPS else 0)
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS else None
# Whether other names below the domain follow is for who owns it to say, and so is the
# browsers' list of names, which nobody gets off again.
SECURE_HSTS_INCLUDE_SUBDOMAINS = env_bool("HSTS_SUBDOMAINS", default=False)
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

# How many proxies stand in front: the throttle of sign-ins needs the caller's address.
TRUSTED_PROXIES = env_int("TRUSTED_PROXIES", default=0)

# The shape of Django 6's setting of this name, so that our middleware can go then.
SECURE_CSP = {
    "default-src": ["'none'"],
    "script-src": ["'self'"],
    "style-src": ["'self'"],
    "img-src": ["'self'", "blob:", "data:"],
    "connect-src": ["'self'"],
    "manifest-src": ["'self'"],
    "worker-src": ["'self'"],
    "form-action": ["'self'"],
    "base-uri": ["'none'"],
    "frame-ancestors": ["'none'"],
}
# Django's debugging pages carry inline scripts: report there, enforce elsewhere.
SECURE_CSP_REPORT_ONLY = DEBUG

EMAIL_BACKEND = env_text(
    "EMAIL_BACKEND", "django.core.mail.backends.console.EmailBackend"
)
EMAIL_HOST = env_text("EMAIL_HOST", "localhost")
EMAIL_PORT = env_int("EMAIL_PORT", default=25)
EMAIL_HOST_USER = env_text("EMAIL_HOST_USER")
EMAIL_HOST_PASSWORD = env_secret("EMAIL_HOST_PASSWORD", default="")
EMAIL_USE_TLS = env_bool("EMAIL_USE_TLS", default=False)
# Seconds that a mail server has for each of its answers.
EMAIL_TIMEOUT = env_int("EMAIL_TIMEOUT", default=10)
# Who runs the server, and is told when the nightly work or a backup fails.
OPERATOR_EMAIL = env_text("OPERATOR_EMAIL")
DEFAULT_FROM_EMAIL = env_text("DEFAULT_FROM_EMAIL", "orchard@localhost")

LANGUAGE_CODE = "en"
LANGUAGES = [("en", _("English"))]
LOCALE_PATHS = [BASE_DIR / "orchard" / "locale"]
USE_I18N = True
TIME_ZONE = "UTC"
USE_TZ = True

STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
# Styles and scripts come joined, all else as it lies.
STATICFILES_DIRS = [("img", BASE_DIR / "static" / "img")]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "orchard.web.joined.JoinedFinder",
]
MEDIA_ROOT = DATA_DIR / "photos"
STORAGES = {
    "default": {"BACKEND": "orchard.services.photos.storage.PhotoStore"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "orchard.web.statics.HashedStorage"
    },
}
# Set behind nginx: the web server then sends the photo that the view allowed.
PHOTO_REDIRECT = env_text("PHOTO_REDIRECT")

DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
PHOTO_MAX_BYTES = 25 * 1024 * 1024

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
