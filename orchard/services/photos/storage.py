"""Where photos lie: on the disk for certain before anybody is told that they do."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from django.core.files.storage import FileSystemStorage, default_storage


class PhotoStore(FileSystemStorage):
    """A folder whose files outlive a power cut as soon as they are saved."""

    def save(
        self, name: str | None, content: Any, max_length: int | None = None
    ) -> str:
        saved = super().save(name, content, max_length=max_length)
        path = Path(self.path(saved))
        # The file, and the names that lead to it: a folder is written like a file.
        for part in (path, path.parent, path.parent.parent):
            descriptor = os.open(part, os.O_RDONLY)
            try:
                os.fsync(descriptor)
            finally:
                os.close(descriptor)
        return saved


def move_folder(old: str, new: str) -> None:
    """Move a folder of files to another place in the store.

    Of files by the same name that lie there already, the moved ones take the place.
    """
    folder, target = Path(default_storage.path(old)), Path(default_storage.path(new))
    target.mkdir(parents=True, exist_ok=True)
    for file in folder.iterdir():
        file.replace(target / file.name)
    folder.rmdir()
