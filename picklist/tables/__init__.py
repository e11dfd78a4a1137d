"""The only code that knows spreadsheets: tables, columns, cells, problems."""
