"""What every request passes: a check that it can be read, and the content policy."""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable

from django.conf import settings
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse

SHEET = re.compile(rb'<link rel="stylesheet" href="([^">]+)">')


class ReadableRequestMiddleware:
    """Refuse what no browser sends, before anything of it is read.

    Django decodes a body by whatever codec it names, also by one that makes no text;
    and PostgreSQL refuses to look for a session whose key holds a NUL.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        charset = (request.content_params or {}).get("charset", "utf-8")
        try:
            name = codecs.lookup(charset).name
        except LookupError:
            name = ""
        if name not in ("utf-8", "ascii"):
            raise BadRequest(f"The body is not in UTF-8, it says: {charset[:40]}")
        if any("\0" in value for value in request.COOKIES.values()):
            raise BadRequest("A cookie holds a NUL.")
        return self.get_response(request)


class PrivateAnswerMiddleware:
    """Let nobody but the reader's own browser keep a page that says nothing else."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.setdefault("Cache-Control", "private")
        return response


class StylesFirstMiddleware:
    """Name a page's sheets ahead of it, so that they are asked for before it is read.

    Nothing is painted without them, and a slow phone reads for a while first.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if response.get("Content-Type", "").startswith("text/html"):
            head = getattr(response, "content", b"").partition(b"</head>")[0]
            sheets = [
                f"<{url.decode()}>; rel=preload; as=style"
                for url in SHEET.findall(head)
            ]
            if sheets:
                response.setdefault("Link", ", ".join(sheets))
        return response


class ContentSecurityPolicyMiddleware:
    """Send the policy of settings.SECURE_CSP with every answer, until Django 6 does."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.policy = "; ".join(
            f"{directive} {' '.join(sources)}"
            for directive, sources in settings.SECURE_CSP.items()
        )
        self.header = (
            "Content-Security-Policy-Report-Only"
            if settings.SECURE_CSP_REPORT_ONLY
            else "Content-Security-Policy"
        )

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.setdefault(self.header, self.policy)
        return response
