from carbpair.identify.suggestion import did_you_mean, nearest


def test_the_nearest_name_comes_first_and_case_is_ignored() -> None:
    assert nearest("FLANGE_HOLE", ["flange_holes", "hole_thread", "chamber"])[0] == "flange_holes"


def test_a_far_guess_is_not_offered() -> None:
    assert nearest("zzz", ["flange_holes"]) == ()
    assert did_you_mean("zzz", ["a", "b"]) == "Known: a, b."
    assert did_you_mean("zzz", [f"name {n}" for n in range(40)]) == ""
