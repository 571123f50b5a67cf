"""Looking back along the paths of a long case."""

import numpy as np
import pytest

from troubleshoot.reasoning.trail import Trail


@pytest.mark.parametrize("epochs", [1, 2, 3, 8, 37])
def test_looking_back_gives_what_each_path_was_in_every_epoch(epochs):
    rng = np.random.default_rng(epochs)
    trail = Trail(rng.integers(0, 9, (5, 2)))
    whole = [trail.now]
    for _ in range(epochs - 1):
        rows = rng.integers(0, len(trail.now), 6)
        now = rng.integers(0, 9, (6, 2))
        whole = [*(sets[rows] for sets in whole), now]
        trail = trail.then(now, rows)
    for number, sets in enumerate(whole):
        assert np.array_equal(trail.at(number), sets)
    assert all(map(np.array_equal, trail.all(), whole))
    some = rng.integers(0, 6, 4) % len(trail.now)
    assert all(map(np.array_equal, trail.all(some), [sets[some] for sets in whole]))
