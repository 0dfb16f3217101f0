"""Drawing a case: a true pair, a stated car, and what the readers would say of it.

Readings are drawn from the measured confusion, its uncertainty included: each case draws
its own error table from the Dirichlet posterior of the counts.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from carbpair.geometry.hole_layout import COUNT_OF, LAYOUTS
from carbpair.identify.catalogue import Catalogue
from carbpair.identify.confusion import PSEUDO_COUNT, Confusion, LabelConfusion
from carbpair.identify.fact import CaseFacts, TagText
from carbpair.identify.feature import SIDES_OF_LAYOUT
from carbpair.identify.fitment import Fitment
from carbpair.identify.mark import ASSEMBLY_SD_DEG, TURNED_SHARE
from carbpair.identify.mark_verdict import NORMAL_90
from carbpair.identify.pattern_table import UNKNOWN, table_of
from carbpair.identify.prior import BELIEVED, Shares, prior_for
from carbpair.identify.reading import (
    NO_BEARING,
    UNSEEN,
    BearingReading,
    CarbReading,
    LabelReading,
    PairReading,
    wrap_deg,
)
from carbpair.identify.simulated_bearing import simulated_bearing
from carbpair.identify.stated_evidence import FORMAT_OWN, LISTED_OWN, OTHER_SOURCE

CAR_STATED_SHARE = 0.9
"""Share of cases with a stated car; the intake asks everyone. A judgement, no source."""
SHARPNESS_SPREAD = 0.25
"""Log-normal spread of a network's over- and under-confidence from picture to picture."""
SURE_OF_ITSELF, NOT_SURE, UNSURE_AT_MOST = 0.9995, 0.985, 0.9
"""What a network states that is sure of itself, and the most that it states when it answers
without being that, and when it does not answer."""
LEAST_IN_VIEW = 10
"""Of a true value in full view less often than this, all that were looked at are drawn from."""
UNKNOWN_TAG = "ZZ 0000"

Vector = npt.NDArray[np.float64]


@dataclass(frozen=True)
class SimulatedCase:
    """``truth``: place of the true hypothesis (patterns, other, mixed)."""

    truth: int
    reading: PairReading
    fitments: tuple[Fitment, ...]
    facts: CaseFacts = field(default_factory=CaseFacts)


@dataclass
class CaseSimulator:
    """Draws cases for one catalogue and one confusion file.

    ``views_as_asked``: every feature is in view (filters off, marks in frame), readers may
    still be unsure. Otherwise features are hidden as often as in the readers' evaluation.
    ``tags_share``: in how many cases both tag texts were typed in as well.
    ``look_alike_share``: how many pairs of
    another source copy every visible feature of a catalogue pattern. ``shares``: how often
    pairs are what they should be in the drawn world, where that differs from the belief.
    """

    catalogue: Catalogue
    confusion: Confusion
    views_as_asked: bool = True
    car_stated_share: float = CAR_STATED_SHARE
    tags_share: float = 0.0
    look_alike_share: float = 0.0
    shares: Shares = BELIEVED
    _cars: list[tuple[Fitment, ...]] = field(init=False)
    _world: npt.NDArray[np.float64] = field(init=False)

    def __post_init__(self) -> None:
        index = dict(self.catalogue.index)
        rows: list[tuple[Fitment, ...]] = [()]
        for fitment in self.catalogue.fitments:
            year = fitment.years[0] if fitment.years else None
            rows.append(self.catalogue.fitments_of(fitment.car, fitment.engine, year))
        weight = np.full(len(rows), self.car_stated_share / max(len(rows) - 1, 1))
        weight[0] = 1.0 - self.car_stated_share if len(rows) > 1 else 1.0
        priors = [prior_for(index, row, self.shares) for row in rows]
        table = np.array([[*p.patterns, p.other, p.mixed] for p in priors])
        self._cars = rows
        self._world = table * weight[:, None]
        self._patterns = table_of(self.catalogue)

    @property
    def classes(self) -> int:
        """Number of hypotheses: patterns, other, mixed."""
        return int(self._world.shape[1])

    def draw(self, generator: np.random.Generator, truth: int | None = None) -> SimulatedCase:
        """One case, of the given true hypothesis or of one drawn from the population."""
        if truth is None:
            flat = self._world.ravel() / self._world.sum()
            place = int(generator.choice(flat.size, p=flat))
            car, truth = divmod(place, self.classes)
        else:
            column = self._world[:, truth] / self._world[:, truth].sum()
            car = int(generator.choice(column.size, p=column))
        one, two = self._members(generator, truth, self._cars[car])
        pair = self._true_pair(generator, one, two, truth > len(self._patterns.ids))
        reading = self._read(generator, pair)
        facts = CaseFacts()
        if self.tags_share > 0 and generator.random() < self.tags_share:
            facts = CaseFacts(
                tags=(
                    TagText(self._tag(generator, one, 0), "left"),
                    TagText(self._tag(generator, two, 1), "right"),
                )
            )
        return SimulatedCase(truth, reading, self._cars[car], facts)

    def _members(
        self, generator: np.random.Generator, truth: int, fitments: tuple[Fitment, ...]
    ) -> tuple[int, int]:
        """The true pattern of the left and of the right carburettor."""
        count = len(self._patterns.ids)
        if truth <= count:
            return truth, truth
        prior = prior_for(self._patterns.index, fitments)
        while True:
            own = int(generator.choice(count + 1, p=prior.single))
            odd = int(generator.choice(count + 1, p=prior.odd))
            if own != odd or own == count:
                return (own, odd) if generator.random() < 0.5 else (odd, own)

    def _true_pair(
        self, generator: np.random.Generator, one: int, two: int, mixed: bool
    ) -> tuple[_TrueCarb, _TrueCarb]:
        count = len(self._patterns.ids)
        if mixed:
            return self._carbs(generator, one)[0], self._carbs(generator, two)[1]
        if one == count and generator.random() < self.look_alike_share:
            return self._carbs(generator, int(generator.integers(count)))
        return self._carbs(generator, one)

    def _tag(self, generator: np.random.Generator, pattern: int, carb: int) -> str:
        """A tag text as the tag model has it: own number, own format, or anything."""
        count = len(self._patterns.ids)
        listed = [p for p in self.catalogue.patterns if p.tag]
        chance = generator.random()
        if pattern == count:
            held = listed[int(generator.integers(len(listed)))] if listed else None
            if held is not None and chance < OTHER_SOURCE["listed"]:
                return held.tag[carb % len(held.tag)].number
            return UNKNOWN_TAG
        own = self.catalogue.patterns[pattern]
        if own.tag and chance < LISTED_OWN:
            return own.tag[carb % len(own.tag)].number
        if own.tag_formats and chance < LISTED_OWN + FORMAT_OWN:
            mask = own.tag_formats[0]
            digits = [str(generator.integers(10)) for _ in mask]
            return "".join(
                digit if x in "#?" else "X" if x == "@" else "" if x == "*" else x
                for x, digit in zip(mask, digits, strict=True)
            )
        return UNKNOWN_TAG

    def _carbs(self, generator: np.random.Generator, pattern: int) -> tuple[_TrueCarb, _TrueCarb]:
        """Both carburettors of a pattern; ``pattern`` = count means another source."""
        table = self._patterns

        def value(feature: str) -> str:
            values = table.values[feature]
            code = UNKNOWN if pattern == len(table.ids) else int(table.codes[feature][pattern])
            return values[int(generator.integers(len(values))) if code == UNKNOWN else code]

        sides = SIDES_OF_LAYOUT[value("bowl_layout")]
        left, right = sides[int(generator.integers(len(sides)))]
        chamber, holes = value("chamber"), value("flange_holes")
        lies = UNKNOWN if pattern == len(table.ids) else int(table.codes["hole_layout"][pattern])
        layouts = list(LAYOUTS[int(holes)])
        layout = table.values["hole_layout"][lies] if lies != UNKNOWN else generator.choice(layouts)
        common = {"chamber": chamber, "flange_holes": holes, "hole_layout": str(layout)}
        convention = np.nan if pattern == len(table.ids) else table.required_mark_deg[pattern]
        if np.isnan(convention):
            convention = generator.uniform(-180.0, 180.0)
        marks = [
            generator.uniform(-180.0, 180.0)
            if generator.random() < TURNED_SHARE
            else generator.normal(convention, ASSEMBLY_SD_DEG)
            for _ in range(2)
        ]
        return (
            _TrueCarb(common | {"bowl_side": left}, marks[0]),
            _TrueCarb(common | {"bowl_side": right}, marks[1]),
        )

    def _read(
        self, generator: np.random.Generator, pair: tuple[_TrueCarb, _TrueCarb]
    ) -> PairReading:
        labels: tuple[dict[str, LabelReading], dict[str, LabelReading]] = ({}, {})
        for name in ("chamber", "flange_holes", "bowl_side", "hole_layout"):
            if name not in self.confusion.labels:
                continue
            confusion = self.confusion.labels[name]
            tables = {
                truth: self._error_row(generator, confusion, truth)
                # In a fixed order: a set's order changes from run to run, and the draws with it.
                for truth in dict.fromkeys((pair[0].values[name], pair[1].values[name]))
            }
            first = self._answer(generator, confusion, pair[0].values[name], tables)
            same = pair[0].values[name] == pair[1].values[name]
            if same and generator.random() < confusion.pair_correlation:
                second = first
            else:
                second = self._answer(generator, confusion, pair[1].values[name], tables)
            labels[0][name], labels[1][name] = first, second
        for read, carb in zip(labels, pair, strict=True):
            if "hole_layout" in read:
                read["hole_layout"] = self._of_count(generator, read, carb)
        return PairReading(
            CarbReading(labels[0], self._bearing(generator, pair[0].mark_deg)),
            CarbReading(labels[1], self._bearing(generator, pair[1].mark_deg)),
            photos=self.confusion.photos,
        )

    def _of_count(
        self, generator: np.random.Generator, read: dict[str, LabelReading], carb: _TrueCarb
    ) -> LabelReading:
        """The layout that goes with the count as read: none without one, any of a wrong one's."""
        holes = read["flange_holes"]
        if holes.value is None:
            return UNSEEN
        if holes.value == carb.values["flange_holes"]:
            said = read["hole_layout"]
            fits = said.value is None or str(COUNT_OF[said.value]) == holes.value
            return said if fits else UNSEEN
        layouts = list(LAYOUTS[int(holes.value)])
        answer = str(generator.choice(layouts))
        return LabelReading("seen", answer, {name: float(name == answer) for name in layouts})

    def _error_row(
        self, generator: np.random.Generator, confusion: LabelConfusion, truth: str
    ) -> Vector:
        place = confusion.labels.index(truth)
        if not self.views_as_asked:
            return np.asarray(generator.dirichlet(confusion.counts[place] + PSEUDO_COUNT))
        if confusion.in_view is not None and self._drawn_in_view(confusion, place):
            # In full view and yet called hidden: nothing is read. Kept apart from being unsure,
            # so that it is not counted as a lean.
            return np.asarray(generator.dirichlet(confusion.in_view[place] + PSEUDO_COUNT))
        return np.asarray(generator.dirichlet(confusion.counts[place, :-1] + PSEUDO_COUNT))

    def _drawn_in_view(self, confusion: LabelConfusion, place: int) -> bool:
        """Whether readings of this true value are drawn from those in full view alone."""
        in_view = confusion.in_view
        return self.views_as_asked and in_view is not None and in_view[place].sum() >= LEAST_IN_VIEW

    def _answer(
        self,
        generator: np.random.Generator,
        confusion: LabelConfusion,
        truth: str,
        tables: dict[str, Vector],
    ) -> LabelReading:
        outcome = int(generator.choice(tables[truth].size, p=tables[truth]))
        count = len(confusion.labels)
        if outcome > count:
            return UNSEEN
        if outcome == count:
            return self._unsure(generator, confusion, truth)
        place = confusion.labels.index(truth)
        sure = generator.random() < confusion.sure_share(
            place, outcome, self._drawn_in_view(confusion, place)
        )
        belief = confusion.record(sure)[:, outcome] * confusion.reader_prior
        belief = belief ** np.exp(generator.normal(0.0, SHARPNESS_SPREAD))
        spread = _spread(confusion.labels, belief)
        if confusion.sure is not None:
            own = spread[confusion.labels[outcome]]
            own = SURE_OF_ITSELF if sure else min(own, NOT_SURE)
            spread = _with_own(spread, confusion.labels[outcome], own)
        return LabelReading("seen", confusion.labels[outcome], spread)

    def _unsure(
        self, generator: np.random.Generator, confusion: LabelConfusion, truth: str
    ) -> LabelReading:
        place = confusion.labels.index(truth)
        leans = confusion.unsure
        if confusion.in_view_unsure is not None and self._drawn_in_view(confusion, place):
            leans = confusion.in_view_unsure
        if leans is None:
            row = confusion.unsure_likelihood[place]
        else:
            row = generator.dirichlet(leans[place] + PSEUDO_COUNT)
        first = int(generator.choice(row.size, p=row))
        belief = confusion.unsure_likelihood[:, first] * confusion.reader_prior
        belief = belief ** np.exp(generator.normal(0.0, SHARPNESS_SPREAD))
        spread = _spread(confusion.labels, belief)
        best = max(spread, key=lambda label: spread[label])
        if spread[best] > UNSURE_AT_MOST:
            spread = _with_own(spread, best, UNSURE_AT_MOST)
        return LabelReading("unsure", None, spread)

    def _bearing(self, generator: np.random.Generator, true_deg: float) -> BearingReading:
        errors = self.confusion.bearing
        if errors.records:
            return simulated_bearing(generator, errors, true_deg, self.views_as_asked)
        hidden = 0.0 if self.views_as_asked else errors.not_visible_rate
        if generator.random() < hidden:
            return NO_BEARING
        looked_at = errors.unsure_rate / max(1.0 - errors.not_visible_rate, 1e-9)
        unsure = generator.random() < (
            errors.asked_unsure_rate if self.views_as_asked else min(looked_at, 1.0)
        )
        found = errors.smoothed_unsure_right if unsure else 1.0 - errors.smoothed_stray_rate
        sd = errors.sd_deg
        bearing = true_deg + generator.normal(0.0, sd)
        if generator.random() < errors.smoothed_flip_rate:
            bearing += 180.0
        if generator.random() >= found:
            bearing = generator.uniform(-180.0, 180.0)
        bearing = wrap_deg(float(bearing))
        if unsure:
            return BearingReading("unsure", bearing, sd)
        half = NORMAL_90 * sd
        return BearingReading("seen", bearing, sd, (bearing - half, bearing + half))


@dataclass(frozen=True)
class _TrueCarb:
    values: dict[str, str]
    mark_deg: float


def _with_own(spread: dict[str, float], value: str, own: float) -> dict[str, float]:
    """The distribution with another probability of ``value``."""
    rest = 1.0 - spread[value]
    return {
        label: own if label == value else share / rest * (1.0 - own)
        for label, share in spread.items()
    }


def _spread(labels: tuple[str, ...], belief: Vector) -> dict[str, float]:
    total = float(belief.sum())
    return {label: float(x) / total for label, x in zip(labels, belief, strict=True)}
