import pytest

from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.error import UnknownNameError

DEMO = demo_catalogue()


def test_names_ignore_case_and_spaces() -> None:
    rows = DEMO.fitments_of("varnley  tindre", "vs20 1991 CC", None)
    assert [row.pattern for row in rows] == ["op-4out"]


def test_the_year_picks_among_fitments() -> None:
    both = DEMO.fitments_of("Varnley Ostrene GT", None, None)
    assert [row.pattern for row in both] == ["op-3in-ext", "op-3in-spi"]
    assert [r.pattern for r in DEMO.fitments_of("Varnley Ostrene GT", None, 1970)] == ["op-3in-spi"]


@pytest.mark.parametrize(
    ("car", "engine", "year", "says"),
    [
        ("Varnley Tindr", None, None, "Did you mean 'Varnley Tindre'"),
        ("Zzz", None, None, "Varnley Calloe"),
        ("Varnley Tindre", "VS21 1991 cc", None, "Did you mean 'VS20 1991 cc'"),
        ("Varnley Tindre", None, 1990, "1966–1970"),
    ],
)
def test_an_unknown_car_is_never_guessed(
    car: str, engine: str | None, year: int | None, says: str
) -> None:
    with pytest.raises(UnknownNameError) as caught:
        DEMO.fitments_of(car, engine, year)
    assert says in str(caught.value)


def test_an_unknown_pattern_offers_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="op-3in-ext"):
        DEMO.pattern("op-3in-ex")
