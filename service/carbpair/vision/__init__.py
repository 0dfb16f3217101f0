"""From an upright photograph to located carbs and their features."""

from carbpair.vision.calibration import Calibration, load_calibration
from carbpair.vision.carb import CarbReading, read_carbs
from carbpair.vision.feature import Feature
from carbpair.vision.features import CarbFeatures, judge
from carbpair.vision.network import ModelError, Network, load_networks, model_hashes

__all__ = [
    "Calibration", "CarbFeatures", "CarbReading", "Feature", "ModelError", "Network",
    "judge", "load_calibration", "load_networks", "model_hashes", "read_carbs",
]  # fmt: skip
