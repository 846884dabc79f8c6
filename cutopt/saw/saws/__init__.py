"""The plant's saws: what each cuts, its seconds, carts and weights; saws.toml read."""

from cutopt.saw.saws.reading import SAW_KEYS, SAWS_FILE, read_saws
from cutopt.saw.saws.saw import Saw, Seconds, Weights, materials_of, usual_saws

__all__ = [
    "SAWS_FILE",
    "SAW_KEYS",
    "Saw",
    "Seconds",
    "Weights",
    "materials_of",
    "read_saws",
    "usual_saws",
]
