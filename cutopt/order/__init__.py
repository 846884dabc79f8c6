"""What to buy: the stock order of a plan."""

from cutopt.order.stock import OrderLine, stock_order

__all__ = ["OrderLine", "stock_order"]
