"""Marks that were read but are not told, since the photograph shows that they cannot be trusted."""

from dataclasses import replace

from carbpair.vision import Feature

MIRROR_MOVES_DEG = 8.0
"""A mirror image that moves a bearing by no more than this changes nothing that matters."""


def mirrored_bearing(bearing: Feature) -> Feature:
    """A bearing read from a mirror image, where clockwise cannot be told from anticlockwise.

    On the intake's axis both are the same. The verdict, which asks for the angle only, stands.
    """
    mean = float((bearing.distribution or {}).get("mean_deg", 0.0))
    if bearing.value is not None and min(abs(mean), 180.0 - abs(mean)) <= MIRROR_MOVES_DEG / 2:
        return bearing
    return replace(
        bearing,
        value=None,
        status="unsure",
        reason="mirrored",
        distribution=None,
        interval_deg=None,
    )


def opposed_mark(answer: Feature) -> Feature:
    """A bearing or verdict of a carb that faces against its neighbour, as none of one pair does.

    One of the two was taken the wrong way round, and its bearing is half a turn off: it says
    nothing, not even as soft evidence. What is not visible stays so.
    """
    if answer.status == "not_visible":
        return answer
    return Feature(None, None, "unsure", "carbs_point_different_ways")
