"""Drawing what the mark's reader would say, from its record by its own certainty."""

from __future__ import annotations

import numpy as np

from carbpair.identify.confusion import PSEUDO_COUNT, BearingConfusion
from carbpair.identify.mark_verdict import NORMAL_90
from carbpair.identify.reading import NO_BEARING, BearingReading, wrap_deg


def simulated_bearing(
    generator: np.random.Generator,
    errors: BearingConfusion,
    true_deg: float,
    views_as_asked: bool,
) -> BearingReading:
    """A reading of a mark that points to ``true_deg``: hidden, or of one of the records.

    ``views_as_asked``: the mark is in full view; how certain readings of such marks were, and how
    often right, is what was counted of them. The bearing is that of the mark, of its opposite, or
    anywhere. ``errors.records`` must not be empty.
    """
    counts = [r.in_view if views_as_asked else r.counts for r in errors.records]
    read = np.array([c.n + PSEUDO_COUNT for c in counts])
    if views_as_asked:
        hidden = (errors.in_view_hidden_n + PSEUDO_COUNT) / (
            read.sum() + errors.in_view_hidden_n + PSEUDO_COUNT
        )
    else:
        hidden = errors.not_visible_rate
    if generator.random() < hidden:
        return NO_BEARING
    place = int(generator.choice(read.size, p=read / read.sum()))
    record, shares = errors.records[place], counts[place].shares
    kind = generator.choice(3, p=(shares.found, shares.flipped, shares.stray))
    bearing = true_deg + generator.normal(0.0, record.sd_deg) + 180.0 * float(kind == 1)
    if kind == 2:
        bearing = generator.uniform(-180.0, 180.0)
    bearing = wrap_deg(float(bearing))
    sd = record.stated_sd_deg or record.sd_deg
    half = NORMAL_90 * sd
    interval = (bearing - half, bearing + half) if record.status == "seen" else None
    return BearingReading(record.status, bearing, sd, interval, probability=record.least)
