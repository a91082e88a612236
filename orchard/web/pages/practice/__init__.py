"""Practice: a question a page, what the guide says after it, and what is mixed up."""

from __future__ import annotations

from orchard.web.pages.practice.forms import PracticeAnswerForm
from orchard.web.pages.practice.views import answered, away, mixed_up, question

__all__ = ["PracticeAnswerForm", "answered", "away", "mixed_up", "question"]
