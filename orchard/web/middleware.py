"""The content security policy, until Django 6 brings its own."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse


class ContentSecurityPolicyMiddleware:
    """Send the policy of settings.SECURE_CSP with every answer."""

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
