"""Fifteen ways in which a photograph goes wrong, each in five severities."""

from .corruption import KINDS, SEVERITIES, Corrupted, corrupt

__all__ = ["KINDS", "SEVERITIES", "Corrupted", "corrupt"]
