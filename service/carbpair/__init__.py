"""Reads photographs of a pair of side-draught constant-depression carburettors."""

__version__ = "0.1.0"
