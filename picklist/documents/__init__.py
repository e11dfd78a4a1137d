"""The plan as pages, workbook, board and JSON; nothing is computed here."""
