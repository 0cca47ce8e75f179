"""Stopout: plans for clearing paint resists, etching plates and painting signs."""

__all__ = ["__version__"]

__version__ = "0.1.0"
