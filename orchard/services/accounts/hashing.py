"""How passwords are hashed: by much memory, but that of one at a time."""

from __future__ import annotations

from django.contrib.auth.hashers import Argon2PasswordHasher

from orchard.services.memory import much_memory


class Argon2Hasher(Argon2PasswordHasher):
    """Argon2id with 64 MiB, three passes and four lanes.

    As RFC 9106, section 4 recommends where memory is scarce. A password that was hashed
    otherwise is hashed anew when its owner signs in.
    """

    time_cost = 3
    memory_cost = 64 * 1024
    parallelism = 4

    def encode(self, password: str, salt: str) -> str:
        with much_memory:
            return super().encode(password, salt)

    def verify(self, password: str, encoded: str) -> bool:
        with much_memory:
            return super().verify(password, encoded)
