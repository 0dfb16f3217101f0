"""Plane and circle geometry of a photographed carburettor; pure functions, no images.

Image coordinates are pixels, x right, y down, pixel centres at integer + 0.5.
"""
