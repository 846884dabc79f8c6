"""Least-cost stock orders and cutting plans for a mill that feeds framing jigs."""

__version__ = "0.1.0"
__all__ = ["__version__"]
