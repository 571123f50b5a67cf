"""A lab's own folder that extends entries of the rules beneath it."""

from pathlib import Path

import pytest

from tests.knowledge import tiny
from troubleshoot.errors import UserError
from troubleshoot.knowledge.lint.run import check
from troubleshoot.knowledge.load import load_with_places
from troubleshoot.knowledge.overlay import NO_SOURCE


@pytest.fixture
def laid(tmp_path):
    """Load the tiny rules with folders of a lab upon them."""

    def lay(*labs):
        folders = [tiny.write(tmp_path / "base", tiny.rules())]
        folders += [tiny.write(tmp_path / f"lab{n}", data) for n, data in enumerate(labs)]
        return load_with_places(folders)

    return lay


def cause(**keys):
    return {"causes": {"lid_loose": {"extends": True, **keys}}}


def test_what_is_not_named_stays(laid):
    before, after = laid().rules, laid(cause(share=9)).rules
    assert after.causes["lid_loose"].share == 9.0
    loose = before.causes["lid_loose"]
    changed = {"share": loose.share, "source": loose.source}
    assert after.causes["lid_loose"].model_copy(update=changed) == loose
    assert after.causes["bulb_dark"] == before.causes["bulb_dark"]
    assert after.hash != before.hash


def test_mappings_are_merged_name_by_name(laid):
    """A value in them is replaced whole: a row keeps no answer of the row that stood there."""
    rows = {"tint": {"dark": 0.7}, "hiss": 0.6}
    first = cause(shows=rows, complaints={"slow": 0.5})
    rules = laid(first, cause(shows={"tint": {"milky": 0.8}})).rules
    assert rules.causes["lid_loose"].shows == {"tint": {"milky": 0.8}, "hiss": 0.6}
    assert rules.causes["lid_loose"].complaints["slow"] == 0.5


def test_lists_and_words_take_the_place_of_what_stood_there(laid):
    rules = laid({"checks": {"look": {"extends": True, "steps": ["Look."], "name": "See"}}}).rules
    assert (rules.actions["look"].steps, rules.actions["look"].name) == (["Look."], "See")


def test_a_cure_for_ones_own_cause_is_one_line(laid):
    own = dict(tiny.rules()["causes"]["bulb_dark"], name="Bulb cracked")
    remedy = {"change_bulb": {"extends": True, "cures": {"bulb_cracked": 0.8}}}
    rules = laid({"causes": {"bulb_cracked": own}, "remedies": remedy}).rules
    assert rules.actions["change_bulb"].cures == {"bulb_dark": 0.9, "bulb_cracked": 0.8}


def test_an_answer_can_be_put_in_other_words(laid):
    finding = {"extends": True, "answers": {"dark": "Black"}, "looks": {"dark": "Like soot."}}
    tint = laid({"findings": {"tint": finding}}).rules.findings["tint"]
    assert tint.answers["dark"] == "Black"
    assert list(tint.answers) == list(tiny.rules()["findings"]["tint"]["answers"])
    assert tint.looks["dark"] == "Like soot."


def test_settings_are_extended_too(laid):
    settings = laid({"settings": {"extends": True, "sticky": 0.5}}).rules.settings
    assert settings.sticky == 0.5
    assert settings.fairly_sure == laid().rules.settings.fairly_sure


def test_a_source_does_not_vouch_for_what_others_wrote(laid):
    """The citation beneath stays only with a word that the entry was changed."""
    before = tiny.rules()["causes"]["lid_loose"]["source"]
    assert laid(cause(share=9)).rules.causes["lid_loose"].source == f"{before}; {NO_SOURCE}"
    own = laid(cause(share=9, source="our log book")).rules.causes["lid_loose"]
    assert own.source == "our log book"


def test_extended_and_overridden_are_told_apart(laid):
    look = tiny.rules()["checks"]["look"]
    loaded = laid({**cause(share=9), "checks": {"look": look}})
    assert loaded.extended == ("causes.lid_loose",)
    assert loaded.overridden == ("checks.look",)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"causes": {"lid_lose": {"extends": True}}}, "did you mean 'lid_loose'?"),
        ({"remedies": {"look": {"extends": True}}}, "'look' does not exist in the rules beneath"),
        (cause() | {"causes": {"lid_loose": {"extends": "yes"}}}, "write `extends: true`"),
        (cause() | {"causes": {"lid_loose": {"extends": False}}}, "write `extends: true`"),
    ],
)
def test_what_cannot_be_extended_is_one_sentence_with_its_place(laid, tmp_path, data, said):
    with pytest.raises(UserError) as caught:
        laid(data)
    ((kind, entries),) = data.items()
    place = f"{tmp_path / 'lab0' / 'all.yaml'}, line 3, key {kind}.{next(iter(entries))}.extends: "
    (message,) = str(caught.value).splitlines()
    assert message.startswith(place)
    assert said in message


def test_nothing_is_extended_within_one_folder(tmp_path):
    data = tiny.rules()
    data["causes"]["lid_loose"]["extends"] = True
    with pytest.raises(UserError, match="rules beneath"):
        load_with_places([tiny.write(tmp_path, data)])


def test_an_entry_that_is_none_is_told_where_it_stands(tmp_path):
    data = tiny.rules()
    data["causes"]["lid_loose"] = 3
    folders = [tiny.write(tmp_path / "base", data), tiny.write(tmp_path / "lab", cause(share=9))]
    with pytest.raises(UserError, match="keys with values") as caught:
        load_with_places(folders)
    assert str(tmp_path / "base") in str(caught.value)


@pytest.mark.parametrize(
    ("keys", "folder", "key"),
    [
        ({"shows": {"tint": {"drk": 0.8}}}, "lab0", "causes.lid_loose.shows.tint.drk"),
        ({"complaints": {"slo": 0.8}}, "lab0", "causes.lid_loose.complaints.slo"),
        ({"share": 0}, "lab0", "causes.lid_loose.share"),
        ({"nmae": "x"}, "lab0", "causes.lid_loose.nmae"),
    ],
)
def test_a_mistake_is_told_in_the_file_that_makes_it(laid, tmp_path, keys, folder, key):
    with pytest.raises(UserError) as caught:
        laid(cause(**keys))
    assert str(caught.value).startswith(f"{tmp_path / folder / 'all.yaml'}, line ")
    assert f", key {key}: " in str(caught.value)


def test_what_stands_beneath_has_its_place_there(laid, tmp_path):
    """A name in a merged mapping where it was written; a row, all of it, where it was replaced."""

    def place(*key, **shows):
        loaded = laid({"causes": {"bulb_dark": {"extends": True, "shows": shows}}})
        return Path(loaded.places["causes", "bulb_dark"].key(*key).split(",")[0]).parent.name

    assert place("shows", "hiss", hiss=0.5) == "lab0"
    assert place("shows", "tint", "dark", hiss=0.5) == "base"
    assert place("shows", "tint", "dark", tint={"milky": 0.8}) == "lab0"
    assert place("remedies", hiss=0.5) == "base"
    assert place(hiss=0.5) == "lab0"


def test_only_what_an_extension_says_is_remarked_on(laid, tmp_path):
    laid({"causes": {"bulb_dark": {"extends": True, "shows": {"hiss": 0.06}}}})
    (remark,) = check([tmp_path / "base", tmp_path / "lab0"], ["sense"])
    assert remark.name == "row_says_nothing"
    assert str(remark.place).startswith(str(tmp_path / "lab0" / "all.yaml"))
    laid({"causes": {"lid_loose": {"share": 9, "extends": True}}})
    (remark,) = check([tmp_path / "base", tmp_path / "lab0"], ["style"])
    assert remark.remedy == "use the order extends, share"
