from carbpair.vision.feature import Feature, hidden, judged, unsure


def test_an_answer_needs_its_threshold() -> None:
    odds = {"2": 0.04, "3": 0.93, "4": 0.03}
    values = {"2": 2, "3": 3, "4": 4}
    seen = judged(odds, values, 0.9)
    assert (seen.value, seen.probability, seen.status, seen.reason) == (3, 0.93, "seen", None)
    held = judged(odds, values, 0.95)
    assert (held.value, held.probability, held.status) == (None, 0.93, "unsure")
    assert held.reason == "low_confidence"
    assert held.distribution == odds


def test_holding_back_keeps_the_soft_evidence() -> None:
    seen = judged({"a": 0.95, "b": 0.05}, {"a": "a", "b": "b"}, 0.9)
    held = unsure(seen, "mirrored")
    assert (held.value, held.status, held.reason) == (None, "unsure", "mirrored")
    assert held.distribution == seen.distribution
    assert unsure(hidden("edge_on"), "mirrored") == hidden("edge_on")


def test_json() -> None:
    text = Feature(12.345, 0.987654, "seen", None, {"mean_deg": 12.345, "sd_deg": 2}, (8.06, 16.64))
    assert text.as_json() == {
        "value": 12.345,
        "probability": 0.9877,
        "status": "seen",
        "reason": None,
        "distribution": {"mean_deg": 12.345, "sd_deg": 2.0},
        "interval_deg": [8.1, 16.6],
    }
    assert hidden("too_small").as_json() == {
        "value": None,
        "probability": None,
        "status": "not_visible",
        "reason": "too_small",
        "distribution": None,
    }
