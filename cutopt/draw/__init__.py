"""A layout as a drawing."""

__all__: list[str] = []
