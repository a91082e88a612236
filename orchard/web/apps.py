from __future__ import annotations

from django.apps import AppConfig


class WebConfig(AppConfig):
    name = "orchard.web"
    label = "web"
    verbose_name = "Web"
