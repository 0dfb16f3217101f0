"""Procedural scenes: invented carburettor pairs, their bays, and the exact truth about them."""
