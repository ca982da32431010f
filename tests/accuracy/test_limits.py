from geoqa.accuracy.limits import centimetres, checkpoints, metres, within_limit


def test_a_figure_is_compared_unrounded():
    """[ASPRS2023]: 0.050049 m prints as 5.0 cm and is not within a 5.0 cm class."""
    assert within_limit(0.05, 0.05)
    assert not within_limit(0.050049, 0.05)
    assert not within_limit(0.0500001, 0.05)


def test_the_noise_of_coordinates_does_not_decide():
    """A double of five million metres steps by a nanometre."""
    assert within_limit((5_000_000.05 - 5_000_000.0), 0.05)
    assert 5_000_000.05 - 5_000_000.0 != 0.05


def test_nothing_is_within_a_limit_that_is_not_known():
    assert not within_limit(float("nan"), 0.05)


def test_a_figure_never_prints_like_a_limit_that_it_misses():
    assert metres(0.0212, 0.05) == "0.021 m"
    assert metres(0.0504, 0.05) == "0.0504 m"
    assert metres(0.050049, 0.05) == "0.05005 m"
    assert metres(0.05, 0.05) == "0.050 m"
    assert centimetres(0.0496, 0.05) == "4.96 cm"


def test_one_checkpoint_is_singular():
    assert (checkpoints(1), checkpoints(14)) == ("1 checkpoint", "14 checkpoints")
