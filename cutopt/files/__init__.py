"""csv, xlsx, toml, json and html: the only disk access."""

__all__: list[str] = []
