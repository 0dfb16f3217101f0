"""Tilt of a plane from the ellipse that a circle in it makes in the picture.

Weak perspective: the camera is far away compared with the circle's size. Camera axes are
x right, y down, z away from the camera.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carbpair.geometry.ellipse import Ellipse


@dataclass(frozen=True, slots=True)
class PlaneTilt:
    """One reading of a circle's plane.

    `tilt_deg` in [0, 90): angle between the plane's normal and the line of sight.
    `normal`: unit vector (x, y, z) in camera axes that points towards the camera (z < 0).
    `near_deg`: image direction (degrees from +x towards +y) of the rim point nearest the
    camera, None when the plane faces the camera.
    """

    tilt_deg: float
    normal: tuple[float, float, float]
    near_deg: float | None


def circle_tilts(ellipse: Ellipse) -> tuple[PlaneTilt, PlaneTilt]:
    """Both planes whose circle projects to this ellipse.

    One ellipse cannot tell which end of its minor axis is the nearer one: the two answers
    mirror each other and other keypoints must choose. They agree when the circle is round.
    """
    tilt = math.acos(min(1.0, ellipse.axis_ratio))
    minor_deg = ellipse.angle_deg + 90.0
    return _tilted(tilt, minor_deg), _tilted(tilt, minor_deg + 180.0)


def unforeshorten(ellipse: Ellipse) -> NDArray[np.float64]:
    """Affine (2, 3) that maps the ellipse to the unit circle at the origin.

    The rotation about the circle's axis stays open: image directions along the major axis
    are kept. Both tilts of `circle_tilts` share this map.
    """
    angle = math.radians(ellipse.angle_deg)
    cos_a, sin_a = math.cos(angle), math.sin(angle)
    turn = np.array([[cos_a, -sin_a], [sin_a, cos_a]])
    linear = turn @ np.diag([1.0 / ellipse.semi_major, 1.0 / ellipse.semi_minor]) @ turn.T
    shift = -linear @ np.array([ellipse.cx, ellipse.cy])
    return np.concatenate([linear, shift[:, None]], axis=1)


def _tilted(tilt: float, near_deg: float) -> PlaneTilt:
    near = math.radians(near_deg)
    # The rim leans towards the camera at `near`, so the normal leans away from that side.
    lean = math.sin(tilt)
    normal = (-lean * math.cos(near), -lean * math.sin(near), -math.cos(tilt))
    return PlaneTilt(math.degrees(tilt), normal, near_deg % 360.0 if tilt > 1e-6 else None)
