"""Give lots to cases, and find what is short."""

from picklist.stock.give import StockResult, give_stock
from picklist.stock.walking import walking_key

__all__ = ["StockResult", "give_stock", "walking_key"]
