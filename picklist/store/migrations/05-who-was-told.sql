-- Who was told of a conflict or a shortage, beside what was decided.

ALTER TABLE decision ADD COLUMN told TEXT NOT NULL DEFAULT '';
