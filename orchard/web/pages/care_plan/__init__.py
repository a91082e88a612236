"""The care plan and its jobs."""

from __future__ import annotations

from orchard.web.pages.care_plan.views import care_job, care_plan

__all__ = ["care_job", "care_plan"]
