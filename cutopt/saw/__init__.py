"""In what order to cut: the cut list of a plan, as the saw takes it."""

__all__: list[str] = []
