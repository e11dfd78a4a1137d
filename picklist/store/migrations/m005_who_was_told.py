"""Who was told of a conflict or a shortage, beside what was decided."""

from __future__ import annotations

STATEMENTS = ("ALTER TABLE decision ADD COLUMN told TEXT NOT NULL DEFAULT ''",)
