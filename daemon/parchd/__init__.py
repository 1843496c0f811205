"""Soil water tension from tensiometers with pressure transducers: read, convert, check, store, tell."""

__version__ = "0.1.0"
