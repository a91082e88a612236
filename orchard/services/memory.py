"""Memory: what takes much of it for a moment is done one after the other."""

from __future__ import annotations

from threading import BoundedSemaphore

# Held in a process while a picture is decoded or a password hashed.
much_memory = BoundedSemaphore(1)
