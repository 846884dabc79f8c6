"""The least-cost plan."""

__all__: list[str] = []
