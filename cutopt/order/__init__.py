"""What to buy: the stock order of a plan."""

__all__: list[str] = []
