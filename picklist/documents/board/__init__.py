"""The coordinator's board: one self-contained page, for looking where the sheets are for reading."""

from picklist.documents.board.html import board_html

__all__ = ["board_html"]
