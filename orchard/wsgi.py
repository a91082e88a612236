"""The entry that a web server loads."""

from __future__ import annotations

import gc
import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "orchard.settings")
application = get_wsgi_application()

# What is loaded stays. A page makes many objects and hardly a cycle: looking for cycles
# as often as Python does by itself takes a fifth of the work of a large page.
gc.freeze()
gc.set_threshold(50_000, 20, 20)
