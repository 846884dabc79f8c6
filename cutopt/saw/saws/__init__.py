"""The plant's saws: what each cuts, its seconds, carts and weights; saws.toml read."""

from cutopt.saw.saws.saw import Saw, Seconds, Weights, materials_of, usual_saws

__all__ = ["Saw", "Seconds", "Weights", "materials_of", "usual_saws"]
