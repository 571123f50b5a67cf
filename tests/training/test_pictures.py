"""The made pictures of the rule base."""

import numpy as np
import pytest
from PIL import Image

from troubleshoot.knowledge.drawings import FOLDER
from troubleshoot.knowledge.load import shipped
from troubleshoot.training.micrograph import KINDS, WEAKEST, micrograph
from troubleshoot.training.pictures import name_of, pictures


def test_the_files_are_what_the_generator_makes():
    """But for a grey level or so where another release of numpy rounds otherwise."""
    made = pictures()
    for name, pixels in made.items():
        kept = np.asarray(Image.open(shipped() / FOLDER / name)).astype(int)
        assert np.mean(np.abs(kept - pixels) > 9) < 0.01, f"{name}: made otherwise"
    kept = {p.name for p in (shipped() / FOLDER).glob("made_*.png")}
    assert kept == set(made)


def test_the_finding_shows_each_of_them(rules):
    assert rules.findings["picture_shows"].drawings == {k: name_of(k) for k in KINDS}


def test_each_kind_changes_the_picture_and_seeds_repeat_it():
    shown = {kind: micrograph(kind, seed=1, shape=(120, 160)) for kind in KINDS}
    for kind, pixels in shown.items():
        assert np.array_equal(pixels, micrograph(kind, seed=1, shape=(120, 160)))
        if kind != "clean":
            assert np.mean(pixels != shown["clean"]) > 0.01, kind
    assert set(WEAKEST) == set(KINDS) - {"clean"}


def test_an_unknown_kind_is_named():
    with pytest.raises(ValueError, match="'snow' is none of clean, bands"):
        micrograph("snow", seed=1)
