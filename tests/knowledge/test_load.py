"""Loading a folder of rules: what is accepted, what is overridden, and what every error says."""

import re

import pytest

from tests.knowledge import tiny
from troubleshoot.errors import UserError
from troubleshoot.knowledge.effects import EFFECTS
from troubleshoot.knowledge.load import load, load_with_places, shipped


def refusal(*folders):
    with pytest.raises(UserError) as caught:
        load(folders)
    return str(caught.value)


def edited(tmp_path, *path, **changes):
    """The tiny rules with some keys of the entry at `path` changed (None takes a key away)."""
    data = tiny.rules()
    entry = data
    for key in path:
        entry = entry[key]
    for key, value in changes.items():
        entry[key] = value
        if value is None:
            del entry[key]
    return tiny.write(tmp_path / "rules", data)


def line_of(folder, *keys):
    """The line of the file on which the last of nested `keys` stands, found by reading it."""
    lines = (folder / "all.yaml").read_text(encoding="utf-8").splitlines()
    at = -1
    for depth, key in enumerate(keys):
        at = next(
            n for n in range(at + 1, len(lines)) if lines[n].startswith(f"{'  ' * depth}{key}:")
        )
    return at + 1


# --- what loads ---------------------------------------------------------------------------------


def test_the_tiny_rules_load(tmp_path):
    """Typed entries under their IDs, checks and remedies both as actions."""
    rules = load([tiny.write(tmp_path, tiny.rules())])
    assert list(rules.causes) == ["lid_loose", "bulb_dark"]
    assert rules.actions["listen"].kind == "check"
    assert rules.actions["seat_lid"].kind == "remedy"
    assert rules.revealed_by == {"hiss": ["listen"], "tint": ["look"]}


def test_the_shipped_rules_load():
    """By default, and by name: the same."""
    assert load().hash == load([shipped()]).hash
    assert load().causes


def test_one_entry_a_file_or_all_in_one(tmp_path):
    """How entries are spread over files and folders below makes no difference but to the hash."""
    whole = load([tiny.write(tmp_path / "one", tiny.rules())])
    for kind, members in tiny.rules().items():
        tiny.write(tmp_path / "many" / kind, {kind: members}, f"{kind}.yaml")
    many = load([tmp_path / "many"])
    assert many.model_copy(update={"hash": whole.hash}) == whole


def test_other_files_are_left_alone(tmp_path):
    """Only .yaml files are rules; a folder with such a name is none either."""
    folder = tiny.write(tmp_path, tiny.rules())
    (folder / "notes.txt").write_text("causes: [broken\n")
    (folder / "folder.yaml").mkdir()
    assert load([folder]).hash == load([folder]).hash


def test_the_hash_is_of_what_the_files_say(tmp_path):
    """The same bytes, the same hash; one changed letter, another."""
    one = load([tiny.write(tmp_path / "a", tiny.rules())]).hash
    assert load([tiny.write(tmp_path / "b", tiny.rules())]).hash == one
    assert load([edited(tmp_path, "causes", "lid_loose", what="Something else.")]).hash != one


def test_whole_numbers_are_numbers(tmp_path):
    """`share: 2` and `share: 2.0` are the same."""
    base = load([edited(tmp_path, "causes", "lid_loose", share=2)])
    assert base.causes["lid_loose"].share == 2.0


# --- folders and files --------------------------------------------------------------------------


def test_a_folder_that_is_not_there(tmp_path):
    """Named, with what is needed."""
    message = refusal(tmp_path / "nowhere")
    assert str(tmp_path / "nowhere") in message
    assert ".yaml" in message


def test_a_folder_without_rules(tmp_path):
    """An empty one."""
    assert f"{tmp_path} holds no rules" in refusal(tmp_path)


def test_a_link_out_of_the_folder_is_refused(tmp_path):
    """Rules may not leave their folder, by a link to a file or through a linked folder."""
    folder = tiny.write(tmp_path / "rules", tiny.rules())
    outside = tmp_path / "outside.yaml"
    outside.write_text("cautions: {}\n")
    (folder / "link.yaml").symlink_to(outside)
    message = refusal(folder)
    assert "link.yaml" in message
    assert "outside" in message


def test_a_link_within_the_folder_is_refused_only_for_its_repetition(tmp_path):
    """It leads nowhere else, so what is wrong is that IDs stand twice."""
    folder = tiny.write(tmp_path / "rules", tiny.rules())
    (folder / "link.yaml").symlink_to(folder / "all.yaml")
    assert "already stands at" in refusal(folder)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("- a\n- b\n", "top level must be kinds"),
        ("just words\n", "top level must be kinds"),
        ("# nothing\n", "top level must be kinds"),
        ("", "is empty"),
        ("causez:\n  x: {}\n", "line 1, key causez: unknown kind (did you mean 'causes'?)"),
        ("\ncauses: [a]\n", "line 2, key causes: IDs with their entries are needed"),
        ("causes:\n", "line 1, key causes: IDs with their entries are needed"),
        ("causes:\n  some_cause: 3\n", "line 2, key causes.some_cause: keys with values"),
        ("causes:\n  a: 1\n  a: 2\n", "line 3: the key 'a' stands here twice"),
        ("causes: {a: &x 1}\n", "anchors and aliases"),
    ],
)
def test_files_that_are_no_rules(tmp_path, text, words):
    """The file is named, with the line where there is one."""
    folder = tiny.write(tmp_path, tiny.rules())
    (folder / "more.yaml").write_text(text)
    message = refusal(folder)
    assert str(folder / "more.yaml") in message
    assert words in message


def test_an_id_stands_once_in_a_folder(tmp_path):
    """Both places are named."""
    folder = tiny.write(tmp_path, tiny.rules())
    tiny.write(folder, {"causes": {"lid_loose": tiny.rules()["causes"]["lid_loose"]}}, "more.yaml")
    message = refusal(folder)
    assert f"{folder / 'more.yaml'}, line 2, key causes.lid_loose" in message
    assert f"{folder / 'all.yaml'}, line {line_of(folder, 'causes', 'lid_loose')}" in message


def test_settings_are_needed_once(tmp_path):
    """A folder without them does not load, and says where to look."""
    data = tiny.rules()
    del data["settings"]
    assert "`settings:`" in refusal(tiny.write(tmp_path / "none", data))
    folder = tiny.write(tmp_path / "two", tiny.rules())
    tiny.write(folder, {"settings": tiny.rules()["settings"]}, "more.yaml")
    assert "already stands at" in refusal(folder)


# --- a lab's own folder -------------------------------------------------------------------------


def test_a_later_folder_overrides_entry_by_entry(tmp_path):
    """The lab's entry replaces the shipped one as a whole; all others stay."""
    base = tiny.write(tmp_path / "base", tiny.rules())
    mine = tiny.rules()["causes"]["lid_loose"]
    del mine["mechanisms"]
    mine |= {"share": 9.0, "shows": {"tint": {"milky": 0.8}}}
    lab = tiny.write(tmp_path / "lab", {"causes": {"lid_loose": mine}})
    loaded = load_with_places([base, lab])
    assert loaded.overridden == ("causes.lid_loose",)
    assert loaded.rules.causes["lid_loose"].share == 9.0
    assert ("lid_loose", "hiss") not in loaded.rules.rows
    before = load([base])
    assert loaded.rules.causes["bulb_dark"] == before.causes["bulb_dark"]
    assert loaded.rules.hash != before.hash


def test_a_lab_may_add_and_refer_to_what_is_below(tmp_path):
    """A new cause of a shipped complaint with a shipped remedy."""
    base = tiny.write(tmp_path / "base", tiny.rules())
    new = {**tiny.rules()["causes"]["bulb_dark"], "name": "Bulb cracked"}
    lab = tiny.write(tmp_path / "lab", {"causes": {"bulb_cracked": new}})
    loaded = load_with_places([base, lab])
    assert loaded.overridden == ()
    assert list(loaded.rules.causes) == ["lid_loose", "bulb_dark", "bulb_cracked"]


def test_an_error_names_the_folder_that_it_is_in(tmp_path):
    """The override is at fault, so the override's file is named."""
    base = tiny.write(tmp_path / "base", tiny.rules())
    mine = {**tiny.rules()["causes"]["lid_loose"], "remedies": ["seat_lit"]}
    lab = tiny.write(tmp_path / "lab", {"causes": {"lid_loose": mine}})
    message = refusal(base, lab)
    assert str(lab / "all.yaml") in message
    assert "'seat_lit' does not exist (did you mean 'seat_lid'?)" in message


def test_settings_can_be_overridden(tmp_path):
    """They are one entry like any other."""
    base = tiny.write(tmp_path / "base", tiny.rules())
    settings = {**tiny.rules()["settings"], "sticky": 0.5}
    lab = tiny.write(tmp_path / "lab", {"settings": settings})
    assert load([base, lab]).settings.sticky == 0.5


# --- a cause with its own cures -----------------------------------------------------------------


def own_cause(tmp_path, **keys):
    """The tiny rules with a lab's folder upon them that holds one cause, without `remedies`."""
    cause = {**tiny.rules()["causes"]["bulb_dark"], "name": "Bulb cracked", **keys}
    if "remedies" not in keys:
        del cause["remedies"]
    base = tiny.write(tmp_path / "base", tiny.rules())
    return base, tiny.write(tmp_path / "lab", {"causes": {"bulb_cracked": cause}})


def test_a_cause_may_say_what_cures_it(tmp_path):
    """The remedy is not copied, keeps what it cured before, and is a remedy of the cause."""
    cures = {"seat_lid": 0.2, "change_bulb": 0.9}
    rules = load(own_cause(tmp_path, cured_by=cures))
    assert rules.actions["change_bulb"].cures == {"bulb_dark": 0.9, "bulb_cracked": 0.9}
    assert rules.actions["seat_lid"].cures == {"lid_loose": 0.9, "bulb_cracked": 0.2}
    assert rules.causes["bulb_cracked"].remedies == ["seat_lid", "change_bulb"]
    assert rules.causes["bulb_dark"].remedies == ["change_bulb"]


def test_remedies_that_are_listed_come_first(tmp_path):
    """In their own order; what else cures it follows."""
    cures = {"seat_lid": 0.2, "change_bulb": 0.9}
    rules = load(own_cause(tmp_path, cured_by=cures, remedies=["change_bulb"]))
    assert rules.causes["bulb_cracked"].remedies == ["change_bulb", "seat_lid"]


def test_a_cause_may_be_without_remedy(tmp_path):
    """`rules check` remarks on it."""
    assert load(own_cause(tmp_path)).causes["bulb_cracked"].remedies == []


def test_a_cure_is_said_in_one_place(tmp_path):
    """Not by the remedy and by the cause, even if both say the same."""
    folder = edited(tmp_path, "causes", "lid_loose", cured_by={"seat_lid": 0.9})
    line = line_of(folder, "causes", "lid_loose", "cured_by", "seat_lid")
    (message,) = refusal(folder).splitlines()
    assert message.startswith(
        f"{folder / 'all.yaml'}, line {line}, key causes.lid_loose.cured_by.seat_lid: 'seat_lid'"
    )
    assert "in one of the two places" in message


def test_what_cures_a_cause_must_exist(tmp_path):
    """One message, and a probability like any other."""
    (message,) = refusal(*own_cause(tmp_path / "a", cured_by={"change_blub": 0.9})).splitlines()
    assert "key causes.bulb_cracked.cured_by.change_blub: 'change_blub' does not exist" in message
    assert "did you mean 'change_bulb'?" in message
    assert "less than 1" in refusal(*own_cause(tmp_path / "b", cured_by={"change_bulb": 1}))


# --- entries against the schema -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "changes", "key", "words"),
    [
        (
            ("causes", "lid_loose"),
            {"nmae": "x"},
            "nmae",
            "unknown key 'nmae' (did you mean 'name'?)",
        ),
        (("causes", "lid_loose"), {"what": None}, None, "the key 'what' is missing"),
        (("causes", "lid_loose"), {"source": None}, None, "the key 'source' is missing"),
        (("causes", "lid_loose"), {"source": ""}, "source", "at least 1 character"),
        (("causes", "lid_loose"), {"share": "two"}, "share", "valid number"),
        (("causes", "lid_loose"), {"share": 0}, "share", "greater than 0"),
        (("causes", "lid_loose"), {"share": 100}, "share", "less than 100"),
        (("causes", "lid_loose"), {"share": True}, "share", "valid number"),
        (("causes", "lid_loose"), {"nature": "faulty"}, "nature", "'fault'"),
        (("causes", "lid_loose"), {"remedies": "seat_lid"}, "remedies", "valid list"),
        (("causes", "lid_loose"), {"intermittent": "yes"}, "intermittent", "valid boolean"),
        (("causes", "lid_loose", "today"), {"verdict": "maybe"}, "verdict", "'coat'"),
        (("causes", "lid_loose", "complaints"), {"slow": 1.0}, "slow", "less than 1"),
        (("mechanisms", "leak", "shows"), {"hiss": 0}, "hiss", "greater than 0"),
        (("findings", "hiss"), {"kind": "yesno"}, "kind", "'yes_no'"),
        (("checks", "listen"), {"state": "flying"}, "state", "'vented'"),
        (("checks", "listen", "minutes"), {"hands": -1}, "hands", "greater than or equal to 0"),
        (("remedies", "seat_lid", "cures"), {"lid_loose": 1}, "lid_loose", "less than 1"),
        (("settings",), {"stikcy": 0.5}, "stikcy", "did you mean 'sticky'?"),
        (("settings",), {"sticky": 1}, "sticky", "less than 1"),
        (("cautions", "fingers"), {"stop_now": "no"}, "stop_now", "valid boolean"),
    ],
)
def test_every_mistake_in_an_entry_names_file_line_and_key(tmp_path, path, changes, key, words):
    """The message starts with the place and says what would do."""
    folder = edited(tmp_path, *path, **changes)
    where = (*path, key) if key else path
    place = f"{folder / 'all.yaml'}, line {line_of(folder, *where)}, key {'.'.join(where)}: "
    mine = [m for m in refusal(folder).splitlines() if m.startswith(place)]
    assert any(words in m for m in mine), refusal(folder)


@pytest.mark.parametrize(
    ("path", "changes", "key"),
    [
        (("checks", "listen"), {"does": ["anything"]}, "does.0"),  # only a caution bans anything
        (("checks", "listen"), {"spoken_of": {"pump": "so"}}, "spoken_of.pump"),
        (("cautions", "smoke"), {"bans": ["mains"]}, "bans.0"),
    ],
)
def test_what_is_done_and_banned_is_said_in_the_fixed_words(tmp_path, path, changes, key):
    """All of them are named."""
    message = refusal(edited(tmp_path, *path, **changes))
    assert f"key {'.'.join(path)}.{key}: " in message
    assert all(repr(word) in message for word in EFFECTS)


@pytest.mark.parametrize("name", ["Lid", "lid-loose", "1lid", "l", "x" * 61, "lid loose"])
def test_ids_are_small_letters_digits_and_underscores(tmp_path, name):
    """Two to sixty of them, a letter first."""
    data = tiny.rules()
    data["cautions"][name] = data["cautions"]["smoke"]
    assert f"key cautions.{name}" in refusal(tiny.write(tmp_path, data))


def test_all_mistakes_are_told_at_once(tmp_path):
    """One line each."""
    data = tiny.rules()
    data["causes"]["lid_loose"]["nmae"] = 1
    data["causes"]["bulb_dark"]["share"] = -1
    data["checks"]["look"]["state"] = "nowhere"
    message = refusal(tiny.write(tmp_path, data))
    assert {"nmae", "share", "state"} <= set(re.findall(r"\w+", message))
    assert len(message.splitlines()) >= 3


# --- entries against each other -----------------------------------------------------------------

EVERY_REFERENCE = [
    (("causes", "lid_loose"), {"mechanisms": ["lek"]}, "mechanisms", "'lek'", "leak"),
    (("causes", "lid_loose"), {"complaints": {"slo": 0.5}}, "complaints.slo", "'slo'", "slow"),
    (("causes", "lid_loose"), {"remedies": ["seat_lit"]}, "remedies", "'seat_lit'", "seat_lid"),
    (("causes", "lid_loose"), {"alike": ["bulb_drak"]}, "alike", "'bulb_drak'", "bulb_dark"),
    (("causes", "lid_loose"), {"shows": {"hss": 0.5}}, "shows.hss", "'hss'", "hiss"),
    (("causes", "bulb_dark", "shows"), {"tint": {"drk": 0.5}}, "tint.drk", "'drk'", "dark"),
    (("mechanisms", "leak"), {"like": "leek"}, "like", "'leek'", "leak"),
    (("mechanisms", "leak"), {"shows": {"hisss": 0.5}}, "shows.hisss", "'hisss'", "hiss"),
    (("groups", "ears"), {"findings": ["his"]}, "findings", "'his'", "hiss"),
    (("findings", "tint"), {"replaces": ["hisss"]}, "replaces", "'hisss'", "hiss"),
    (("findings", "tint"), {"world": ["slo"]}, "world", "'slo'", "slow"),
    (("findings", "tint"), {"looks": {"drk": "so"}}, "looks.drk", "'drk'", "dark"),
    (("checks", "listen"), {"reveals": ["hissing"]}, "reveals", "'hissing'", "hiss"),
    (("remedies", "seat_lid"), {"cures": {"lid_lose": 0.5}}, "cures.lid_lose", "'lid_lose'",
     "lid_loose"),
    (("remedies", "seat_lid"), {"may_cause": {"bulb": 0.1}}, "may_cause.bulb", "'bulb'",
     "bulb_dark"),
    (("remedies", "seat_lid"), {"hazards": ["finger"]}, "hazards", "'finger'", "fingers"),
    (("remedies", "seat_lid"), {"proof": "listn"}, "proof", "'listn'", "listen"),
    (("signs", "smell"), {"caution": "smoek"}, "caution", "'smoek'", "smoke"),
    (("cautions", "smoke"), {"repair": ["seat_lit"]}, "repair", "'seat_lit'", "seat_lid"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "changes", "key", "wrong", "right"), EVERY_REFERENCE)
def test_what_is_referred_to_must_exist(tmp_path, path, changes, key, wrong, right):
    """File, line, key, the wrong name and the nearest that exists."""
    folder = edited(tmp_path, *path, **changes)
    message = refusal(folder)
    where = (*path, *key.split("."))
    line = line_of(folder, *where)
    assert f"{folder / 'all.yaml'}, line {line}, key {'.'.join(where)}: {wrong}" in message
    assert "does not exist" in message
    if right != "bulb_dark" or wrong != "'bulb'":  # too far off to guess
        assert f"did you mean {right!r}?" in message


@pytest.mark.parametrize(
    ("name", "phrases", "words"),
    [
        ("hisss", {"says": ["it hisses"]}, "phrases.hisss: 'hisss' does not exist"),
        ("hiss", {"of": "complaint"}, "phrases.hiss: 'hiss' does not exist"),
        ("hiss", {"answers": {"yse": ["it hisses"]}}, "'yse' does not exist (did you mean 'yes'?)"),
        ("slow", {"of": "complaint", "answers": {"yes": ["it is"]}}, "'yes' does not exist"),
        ("hiss", {"says": "it hisses"}, "phrases.hiss.says: Input should be a valid list"),
    ],
)
def test_phrases_name_what_exists(tmp_path, name, phrases, words):
    data = tiny.rules()
    data["phrases"] = {name: {"source": "judgement", **phrases}}
    assert words in refusal(tiny.write(tmp_path / "rules", data))


LIT = {"source": "judgement", "name": "it is lit", "because": "so", "denied_by": [{"hiss": "no"}]}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"needs": ["lti"]}, "lit.needs: 'lti' does not exist (did you mean 'lit'?)"),
        ({"needs": ["lit"]}, "lit.needs: these presuppositions need one another in a circle"),
        ({"denied_by": [{"hisss": "no"}]}, "'hisss' does not exist (did you mean 'hiss'?)"),
        ({"denied_by": [{"hiss": "yse"}]}, "'yse' does not exist (did you mean 'yes'?)"),
        ({"unless": [{"tint": ["clear", "drk"]}]}, "'drk' does not exist (did you mean 'dark'?)"),
        ({"denied_by": [{"complaint": "slo"}]}, "'slo' does not exist (did you mean 'slow'?)"),
        ({"denied_by": [{}]}, "lit.denied_by.0: Dictionary should have at least 1 item"),
        ({"because": None}, "lit: the key 'because' is missing"),
    ],
)
def test_a_presupposition_names_what_exists(tmp_path, changes, words):
    data = tiny.rules()
    entry = {key: value for key, value in (LIT | changes).items() if value is not None}
    data["presuppositions"] = {"lit": entry}
    assert words in refusal(tiny.write(tmp_path, data))


def test_what_is_presumed_must_exist(tmp_path):
    data = tiny.rules()
    data["presuppositions"] = {"lit": LIT}
    data["findings"]["tint"]["presumes"] = ["lti"]
    message = refusal(tiny.write(tmp_path, data))
    assert "tint.presumes: 'lti' does not exist (did you mean 'lit'?)" in message


def test_what_decides_a_finding_must_exist(tmp_path):
    message = refusal(edited(tmp_path, "findings", "tint", decided_by=[["hiss"], ["hisss"]]))
    assert "tint.decided_by.1: 'hisss' does not exist (did you mean 'hiss'?)" in message


@pytest.mark.parametrize(
    ("kind", "entry", "wrong"),
    [
        ("circumstances", {"ask": "?", "odds": {"lid_lose": 2.0}}, "lid_lose"),
        ("circumstances", {"ask": "?", "odds": {}, "said_by": ["hisss"]}, "hisss"),
        ("circumstances", {"ask": "?", "odds": {}, "complaints": ["slo"]}, "slo"),
        (
            "workarounds",
            {"steps": ["a"], "expect": "b", "minutes": {"hands": 1}, "complaints": ["slo"]},
            "slo",
        ),
        (
            "workarounds",
            {
                "steps": ["a"],
                "expect": "b",
                "minutes": {"hands": 1},
                "complaints": [],
                "causes": ["lid_lose"],
            },
            "lid_lose",
        ),
        (
            "workarounds",
            {
                "steps": ["a"],
                "expect": "b",
                "minutes": {"hands": 1},
                "complaints": [],
                "hazards": ["smoek"],
            },
            "smoek",
        ),
    ],
)
def test_circumstances_and_workarounds_refer_to_what_exists(tmp_path, kind, entry, wrong):
    """The same of the kinds that the tiny rules do without."""
    data = tiny.rules()
    data[kind] = {"extra": {"source": "judgement", "name": "extra", **entry}}
    message = refusal(tiny.write(tmp_path, data))
    assert f"key {kind}.extra" in message
    assert f"{wrong!r} does not exist (did you mean" in message


@pytest.mark.parametrize(
    ("name", "changes", "words"),
    [
        ("hiss", {"background": {"yes": 0.1, "no": 0.8}}, "every answer once, summing to 1"),
        ("hiss", {"background": {"yes": 0.1}}, "every answer once, summing to 1"),
        ("tint", {"background": {"clear": 0.5, "dark": 0.4, "blue": 0.1}}, "every answer once"),
        ("hiss", {"answers": {"no": "No", "yes": "Yes"}}, "in that order"),
        ("hiss", {"answers": {"yes": "Y", "no": "N", "dunno": "?"}}, "exactly `yes` and `no`"),
        (
            "hiss",
            {"kind": "two_sided"},
            "two_sided needs low, usual and high at least",
        ),
        (
            "tint",
            {
                "kind": "cure_test",
                "answers": dict.fromkeys(["a", "b", "c", "d"], "so"),
                "background": dict.fromkeys(["a", "b", "c", "d"], 0.25),
            },
            "cure_test has 2 or 3 answers",
        ),
        (
            "tint",
            {"kind": "graded", "quantity": {"dimension": "time", "unit": "s", "edges": [1]}},
            "rising edges, one fewer than the answers",
        ),
        (
            "tint",
            {"kind": "graded", "quantity": {"dimension": "time", "unit": "s", "edges": [3, 1]}},
            "rising edges, one fewer than the answers",
        ),
        *(
            (
                "tint",
                {
                    "kind": "graded",
                    "quantity": {
                        "dimension": "pressure rate",
                        "unit": "Pa/s",
                        "edges": [1, 2],
                        key: "usual_ris",
                    },
                },
                f"quantity.{key}: no such number of a machine (did you mean 'usual_rise'?)",
            )
            for key in ("usual", "instead")
        ),
        ("hiss", {"machine": {"shuter": "yes"}}, "no such machine fact (did you mean 'shutter'?)"),
        ("hiss", {"machine": {"qxz": "yes"}}, "no such machine fact; there are isolation_valve, "),
        ("hiss", {"machine": {"shutter": "maybe"}}, "'maybe' is not one of"),
        ("hiss", {"machine": {"head": ["diode", "triode"]}}, "'triode' is not one of"),
    ],
)
def test_a_finding_must_make_sense(tmp_path, name, changes, words):
    """Answers, background, edges and machine facts fit each other."""
    folder = edited(tmp_path, "findings", name, **changes)
    message = refusal(folder)
    assert re.search(rf"all\.yaml, line \d+, key findings\.{name}", message)
    assert words in message


def test_a_row_must_be_one(tmp_path):
    """A single number only for yes/no; listed answers sum to 1 at most."""
    message = refusal(edited(tmp_path, "causes", "bulb_dark", shows={"tint": 0.5}))
    assert "key causes.bulb_dark.shows.tint: a single number is for yes/no" in message
    row = {"tint": {"dark": 0.9, "milky": 0.3}}
    assert "sum to 1.2, above 1" in refusal(edited(tmp_path, "causes", "bulb_dark", shows=row))


def test_a_finding_is_in_one_group_only(tmp_path):
    """The other group is named."""
    data = tiny.rules()
    data["groups"]["nose"] = data["groups"]["ears"]
    message = refusal(tiny.write(tmp_path, data))
    assert "key groups.nose: 'hiss' is already in the group 'ears'" in message


# --- derivations --------------------------------------------------------------------------------


def derivation(tmp_path, **changes):
    data = tiny.rules()
    entry = {
        "when": [{"finding": "hiss", "is": "yes"}],
        "then": [{"caution": "fingers"}],
        "because": "it hisses",
        "source": "judgement",
        **changes,
    }
    data["derivations"] = {"rule_x": {k: v for k, v in entry.items() if v is not None}}
    return tiny.write(tmp_path / "rules", data)


def test_a_derivation_is_read_as_it_is_written(tmp_path):
    """Conditions and conclusions in order; one value or a list of them."""
    rules = load(
        [
            derivation(
                tmp_path,
                when=[
                    {"finding": "tint", "is": ["dark", "milky"]},
                    {"finding": "hiss", "is": "yes", "same_epoch_as": 0},
                    {"role": "student"},
                ],
                then=[{"finding": "hiss", "is": "no"}, {"out_of_reach": "listen"}],
            )
        ]
    )
    rule = rules.derivations["rule_x"]
    assert [c.values for c in rule.when] == [("dark", "milky"), ("yes",), ()]
    assert [c.same_epoch_as for c in rule.when] == [None, 0, None]
    assert [(c.kind, c.name, c.value) for c in rule.then] == [
        ("finding", "hiss", "no"),
        ("out_of_reach", "listen", "yes"),
    ]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"because": None}, "rule_x: the key 'because' is missing"),
        ({"when": None}, "rule_x: the key 'when' is missing"),
        ({"when": []}, "rule_x: the key 'when' is missing"),
        ({"whem": []}, "rule_x.whem: unknown key (did you mean 'when'?)"),
        ({"when": {"finding": "hiss"}}, "rule_x: `when` and `then` are lists"),
        ({"when": ["hiss"]}, "rule_x.when.0: exactly one of"),
        ({"when": [{"finding": "hiss", "sign": "smell"}]}, "rule_x.when.0: exactly one of"),
        ({"when": [{"finding": "hiss", "iz": "yes"}]}, "rule_x.when.0: exactly one of"),
        ({"when": [{"finding": "hiss", "is": [1]}]}, "rule_x.when.0: `is` takes text"),
        (
            {"when": [{"finding": "hisss"}]},
            "rule_x.when.0: 'hisss' does not exist (did you mean 'hiss'",
        ),
        (
            {"when": [{"finding": "tint", "is": "drk"}]},
            "'drk' does not exist (did you mean 'dark'?)",
        ),
        ({"when": [{"sign": "smel"}]}, "'smel' does not exist (did you mean 'smell'?)"),
        ({"when": [{"complaint": "slo"}]}, "'slo' does not exist (did you mean 'slow'?)"),
        ({"then": [{"caution": "finger"}]}, "rule_x.then.0: 'finger' does not exist"),
        ({"then": [{"ask": "hisss"}]}, "rule_x.then.0: 'hisss' does not exist"),
        ({"then": [{"out_of_reach": "listn"}]}, "rule_x.then.0: 'listn' does not exist"),
        ({"then": [{"finding": "hiss"}]}, "rule_x.then.0: a derived finding, and only that"),
        ({"then": [{"caution": "smoke", "is": "yes"}]}, "a derived finding, and only that"),
        ({"then": [{"state": "vented"}]}, "rule_x.then.0: exactly one of finding, out_of_reach"),
    ],
)
def test_a_derivation_must_make_sense(tmp_path, changes, words):
    """File, line, the rule's name, which of its conditions, and what would do."""
    folder = derivation(tmp_path, **changes)
    message = refusal(folder)
    assert re.search(r"all\.yaml, line \d+, key derivations\.rule_x", message)
    assert words in message
