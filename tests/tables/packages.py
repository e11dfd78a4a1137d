"""Ways to alter a workbook beneath the skin, as other programs and accidents do."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path


def alter_part(path: Path, part: str, change: Callable[[str], str]) -> None:
    """Change the XML of one part of a workbook."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts[part] = change(parts[part].decode()).encode()
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)


def add_part(path: Path, part: str, content: bytes) -> None:
    """Add a part to a workbook."""
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(part, content)


def cut_short(path: Path, share: float = 0.6) -> None:
    """Keep only the first part of a file, as when a copy was interrupted."""
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
