"""The back room: everything read-only except people, orchards and kinds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.apps import apps
from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

from orchard.records.models import Kind, Orchard, User

if TYPE_CHECKING:
    # Generic for the type checker alone.
    ModelAdmin = admin.ModelAdmin[Model]
else:
    ModelAdmin = admin.ModelAdmin

admin.site.site_header = "Record book, back room"


class ReadOnly(ModelAdmin):
    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class NeverDelete(ModelAdmin):
    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class People(NeverDelete):
    list_display = ["name", "email", "is_active", "is_staff"]
    fields = ["name", "email", "is_active", "is_staff", "is_superuser"]


admin.site.register(User, People)
admin.site.register(Orchard, NeverDelete)
admin.site.register(Kind, NeverDelete)
for model in apps.get_app_config("records").get_models():
    if not admin.site.is_registered(model):
        admin.site.register(model, ReadOnly)
