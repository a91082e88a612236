"""The entry that a web server loads."""

from __future__ import annotations

import ctypes
import gc
import os
from contextlib import suppress

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "orchard.settings")
application = get_wsgi_application()

# Numbers of glibc's malloc.h. What is larger than this goes back to the system as soon
# as it is let go; kept in the heaps of threads, pictures would be held for ever.
M_TRIM_THRESHOLD, M_MMAP_THRESHOLD, M_ARENA_MAX = -1, -3, -8
# Another library of C has no such thing, and needs none.
with suppress(OSError, AttributeError):
    mallopt = ctypes.CDLL(None).mallopt
    mallopt(M_MMAP_THRESHOLD, 128 * 1024)
    mallopt(M_TRIM_THRESHOLD, 128 * 1024)
    mallopt(M_ARENA_MAX, 2)

# What is loaded stays. A page makes many objects and hardly a cycle: looking for cycles
# as often as Python does by itself takes a fifth of the work of a large page.
gc.freeze()
gc.set_threshold(50_000, 20, 20)
