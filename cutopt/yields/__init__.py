"""Where the material went: input, parts, kerf, trim, drops; yield and waste percent."""

__all__: list[str] = []
