"""Each remark provoked on a tiny rule base that has nothing to remark otherwise."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.knowledge import tiny
from troubleshoot.errors import UserError
from troubleshoot.knowledge.lint.run import LAYERS, VIEWED, check
from troubleshoot.knowledge.lint.style import STYLE as STYLE_CHECKS
from troubleshoot.knowledge.lint.style import read_words
from troubleshoot.knowledge.load import shipped

Change = Callable[[tiny.Data], object]


def names(folder: Path, *layers: str) -> set[str]:
    return {remark.name for remark in check([folder], layers or LAYERS)}


def changed(folder: Path, change: Change) -> Path:
    data = tiny.rules()
    change(data)
    return tiny.write(folder, data)


def test_nothing_to_remark_on_the_tiny_rules(tmp_path):
    assert check([tiny.write(tmp_path, tiny.rules())]) == []


def test_the_shipped_rules_are_clean():
    assert check([shipped()]) == []


# --- style: what a file looks like ----------------------------------------------------------------


def _replace(old: str, new: str) -> Callable[[str], str]:
    def edit(text: str) -> str:
        assert old in text
        return text.replace(old, new, 1)

    return edit


STYLE = {
    "key_order": _replace("    hands: 3\n      wait: 1\n", "    wait: 1\n      hands: 3\n"),
    "plain_id": _replace("complaints:\n  slow:", "complaints:\n  Slow__down:"),
    "trailing_space": _replace("findings:\n", "findings: \n"),
    "tab": _replace("Be quiet", "Be\tquiet"),
    "long_line": _replace("Be quiet", "Be " + "very " * 40 + "quiet"),
    "long_file": lambda text: text + "#\n" * 400,
    "last_newline": lambda text: text + "\n",
}


@pytest.mark.parametrize("name", STYLE)
def test_style(name, tmp_path):
    folder = tiny.write(tmp_path, tiny.rules())
    file = folder / "all.yaml"
    file.write_text(STYLE[name](file.read_text()))
    assert names(folder, "style") == {name}


def test_keys_of_an_entry_have_one_order(tmp_path):
    def turn_round(data):
        cause = data["causes"]["bulb_dark"]
        data["causes"]["bulb_dark"] = dict(reversed(cause.items()))

    (remark,) = check([changed(tmp_path, turn_round)], ["style"])
    assert remark.place.key == "causes.bulb_dark.today"
    assert remark.remedy.startswith("use the order source, name, what, subsystem")


def test_carriage_returns_are_spaces_at_the_end(tmp_path):
    folder = tiny.write(tmp_path, tiny.rules())
    file = folder / "all.yaml"
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    assert names(folder, "style") == {"trailing_space"}


@pytest.mark.parametrize(
    ("word", "hits"),
    [
        ("BULB", 8),  # any case; in IDs too
        ("bul", 0),  # whole words only
        ("turn the  old one", 1),
        ("lid loose", 1),
    ],
)
def test_unwanted_words(word, hits, tmp_path):
    folder = tiny.write(tmp_path, tiny.rules())
    found = check([folder], ["style"], [word])
    assert [r.name for r in found] == ["unwanted_word"] * hits


def test_unwanted_words_across_a_line_break(tmp_path):
    folder = tiny.write(tmp_path, tiny.rules())
    file = folder / "all.yaml"
    file.write_text(file.read_text().replace("- Be quiet", "- Be\n      quiet"))
    (remark,) = check([folder], ["style"], ["be quiet"])
    assert file.read_text().splitlines()[remark.place.line - 1].endswith("- Be")


def test_word_list(tmp_path):
    (tmp_path / "words").write_text("# not wanted\n\nfoo\n  bar baz \n")
    assert read_words(tmp_path / "words") == ("foo", "bar baz")
    (tmp_path / "words").write_text("# nothing\n")
    with pytest.raises(UserError, match="holds no word"):
        read_words(tmp_path / "words")
    with pytest.raises(UserError, match="does not exist"):
        read_words(tmp_path / "nowhere")


# --- schema and references: what loading says -----------------------------------------------------


def test_schema_problem_has_its_place(tmp_path):
    folder = changed(tmp_path, lambda d: d["causes"]["lid_loose"].update(shares=2.0))
    (remark,) = check([folder], ["schema"])
    assert (remark.layer, remark.name) == ("schema", "does_not_fit")
    assert remark.place.key == "causes.lid_loose.shares"
    line = (folder / "all.yaml").read_text().splitlines()[remark.place.line - 1]
    assert line.strip() == "shares: 2.0"
    assert "did you mean 'share'" in remark.message


def test_reference_problem_has_its_place(tmp_path):
    folder = changed(tmp_path, lambda d: d["causes"]["lid_loose"].update(remedies=["seat_lids"]))
    (remark,) = check([folder], ["references"])
    assert (remark.layer, remark.name) == ("references", "unknown_name")
    assert remark.place.key == "causes.lid_loose.remedies"
    assert check([folder], ["schema"]) == []


def test_every_problem_is_a_remark_of_its_own(tmp_path):
    def spoil(data):
        del data["findings"]["hiss"]["ask"]
        data["checks"]["look"]["state"] = "asleep"

    assert len(check([changed(tmp_path, spoil)], ["schema"])) == 2


def test_a_problem_of_the_whole_folder_has_no_line(tmp_path):
    folder = changed(tmp_path, lambda d: d.pop("settings"))
    (remark,) = check([folder], ["schema"])
    assert str(remark.place) == str(folder)


def test_later_layers_say_what_stands_in_their_way(tmp_path):
    folder = changed(tmp_path, lambda d: d["causes"]["lid_loose"].update(shares=2.0))
    assert names(folder, "sense") == {"does_not_fit"}
    assert names(folder, "style") == set()


@pytest.mark.parametrize("layer", LAYERS)
def test_unreadable_input_is_no_remark(layer, tmp_path):
    with pytest.raises(UserError, match="not a folder"):
        check([tmp_path / "nowhere"], [layer])
    with pytest.raises(UserError, match="no rules"):
        check([tmp_path], [layer])
    (tmp_path / "a.yaml").write_text("a: [\n")
    with pytest.raises(UserError, match="not valid YAML"):
        check([tmp_path], [layer])


# --- reachability ---------------------------------------------------------------------------------


def _second_complaint(data: tiny.Data) -> None:
    data["complaints"]["odd"] = dict(data["complaints"]["slow"])


def _spare_remedy(data: tiny.Data) -> None:
    data["remedies"]["shake_lid"] = dict(data["remedies"]["seat_lid"])


def _spare_mechanism(data: tiny.Data) -> None:
    data["mechanisms"]["gap"] = dict(data["mechanisms"]["leak"])


def _spare_caution(data: tiny.Data) -> None:
    data["cautions"]["toes"] = dict(data["cautions"]["fingers"])


def _unheard_finding(data: tiny.Data) -> None:
    data["findings"]["smear"] = dict(data["findings"]["hiss"])
    data["checks"]["look"]["reveals"].append("smear")


def _hidden_finding(data: tiny.Data) -> None:
    data["findings"]["smear"] = dict(data["findings"]["hiss"])
    data["causes"]["bulb_dark"]["shows"]["smear"] = 0.8


def _unused_presupposition(data: tiny.Data) -> None:
    data["presuppositions"] = {
        "lit": {
            "source": "judgement",
            "name": "it is lit",
            "because": "It is dark.",
            "denied_by": [{"tint": "dark"}],
        }
    }


def _idle_world(data: tiny.Data) -> None:
    """A complaint is named in the world of a finding that none of its causes shows."""
    _second_complaint(data)
    data["causes"]["lid_loose"]["complaints"]["odd"] = 0.5
    data["findings"]["tint"]["world"] = ["slow", "odd"]


def _cut_off(data: tiny.Data) -> None:
    """Two causes of two complaints, told apart by what belongs to the second one alone."""
    _second_complaint(data)
    data["findings"]["smear"] = dict(data["findings"]["hiss"], world=["slow"])
    data["checks"]["look"]["reveals"].append("smear")
    for cause, finding in (("lid_loose", "hiss"), ("bulb_dark", "tint")):
        data["causes"][cause]["complaints"]["odd"] = 0.5
        data["causes"][cause]["shows"] = {**data["causes"][cause].get("shows", {}), "smear": 0.8}
        data["findings"][finding]["world"] = ["odd"]


def _idle_check(data: tiny.Data) -> None:
    data["checks"]["ponder"] = dict(data["checks"]["look"], reveals=[])


REACHABILITY: dict[str, Change] = {
    "complaint_without_cause": _second_complaint,
    "cause_unreached": lambda d: d["causes"]["lid_loose"].update(complaints={}),
    "finding_unrevealed": _hidden_finding,
    "finding_unspoken": _unheard_finding,
    "action_idle": _idle_check,
    "remedy_unnamed": _spare_remedy,
    "cause_without_remedy": lambda d: (
        d["causes"]["lid_loose"].update(remedies=[]),
        d["remedies"].pop("seat_lid"),
        d["checks"]["look"].update(hazards=["fingers"]),
    ),
    "remedy_does_not_cure": lambda d: d["causes"]["bulb_dark"]["remedies"].append("seat_lid"),
    "remedy_without_proof": lambda d: d["remedies"]["seat_lid"].pop("proof"),
    "presupposition_unused": _unused_presupposition,
    "world_without_say": _idle_world,
    "mechanism_unused": _spare_mechanism,
    "caution_unused": _spare_caution,
    "group_unused": lambda d: d["groups"]["ears"].update(findings=[]),
    "sign_without_effect": lambda d: d["signs"]["smell"].update(caution="fingers"),
}


@pytest.mark.parametrize("name", REACHABILITY)
def test_reachability(name, tmp_path):
    found = names(changed(tmp_path, REACHABILITY[name]), "reachability")
    beside = {"sign_without_effect": {"caution_unused"}}.get(name, set())
    assert found == {name} | beside


def test_a_drawing_that_no_answer_shows(tmp_path):
    folder = tiny.write(tmp_path / "rules", tiny.rules())
    drawn = tiny.draw(folder, "cloud.svg")
    (remark,) = check([folder])
    assert (remark.layer, remark.name) == ("reachability", "drawing_unused")
    assert str(remark.place) == str(drawn)
    assert "'cloud.svg'" in remark.message
    shown = tiny.rules()
    shown["findings"]["tint"]["drawings"] = {"milky": "cloud.svg"}
    tiny.write(folder, shown)
    assert check([folder]) == []


def test_a_derivation_reveals_what_it_concludes(tmp_path):
    def derive(data):
        _hidden_finding(data)
        data["derivations"] = {
            "dark_smears": {
                "when": [{"finding": "tint", "is": "dark"}],
                "then": [{"finding": "smear", "is": "yes"}, {"caution": "toes"}],
                "because": "What is dark smears.",
                "source": "judgement",
            }
        }
        _spare_caution(data)

    assert names(changed(tmp_path, derive), "reachability") == set()


def test_a_mechanism_that_another_builds_on_is_used(tmp_path):
    def build(data):
        _spare_mechanism(data)
        data["mechanisms"]["leak"] = {"like": "gap", **data["mechanisms"]["leak"]}

    assert names(changed(tmp_path, build), "reachability") == set()


# --- sense ----------------------------------------------------------------------------------------


def _twin(data: tiny.Data) -> None:
    twin = dict(data["causes"]["lid_loose"], remedies=["shake_lid"])
    data["causes"]["lid_crooked"] = twin
    data["remedies"]["shake_lid"] = dict(data["remedies"]["seat_lid"], cures={"lid_crooked": 0.9})


def _row(cause: str, finding: str, row: object) -> Change:
    return lambda d: d["causes"][cause].setdefault("shows", {}).update({finding: row})


def _step(action: str, step: str, **more: object) -> Change:
    def change(data: tiny.Data) -> None:
        kind = "checks" if action in data["checks"] else "remedies"
        data[kind][action].update(steps=[step], **more)

    return change


def _lesson(*others: str, **more: object) -> Change:
    """A lesson on nothing to remark (`tests/knowledge/test_lint.py` proves it), changed."""

    def change(data: tiny.Data) -> None:
        lesson = {
            "source": "judgement", "name": "Not the bulb", "place": 1, "see": "It is slow.",
            "tempting": "The bulb is dark.", "really": "The lid is loose.", "test": "Listen to it.",
            "checks": ["listen"], "causes": ["lid_loose"], "taken_for": ["bulb_dark"],
            "complaints": ["slow"],
        }  # fmt: skip
        data["lessons"] = {name: {**lesson, **more} for name in ("not_the_bulb", *others)}

    return change


def _routine(**more: object) -> Change:
    def change(data: tiny.Data) -> None:
        step = {
            "source": "judgement", "name": "Lid", "part": "run", "place": 1, "do": "Shut the lid.",
            "why": "Air.", "left_out": "It is slow.", "hazards": ["fingers"],
        }  # fmt: skip
        data["routine"] = {"lid": {**step, **more}}

    return change


SENSE: dict[str, Change] = {
    "lesson_test_tells_nothing": _lesson(taken_for=["lid_loose"]),
    "lesson_test_too_long": lambda d: (
        _lesson()(d) or d["checks"]["listen"].update(minutes={"hands": 9})
    ),
    "same_place": _lesson("nor_the_lamp"),
    "lesson_without_caution": lambda d: (
        _lesson(test="Wipe it with isopropanol.")(d)
        or d["cautions"].update(solvents=dict(d["cautions"]["fingers"]))
    ),
    "step_without_caution": lambda d: (
        _routine(do="Pump down to base.")(d)
        or d["cautions"].update(glass_under_vacuum=dict(d["cautions"]["fingers"]))
    ),
    "causes_not_told_apart": _twin,
    "told_apart_outside_only": _cut_off,
    "row_says_nothing": _row("bulb_dark", "hiss", 0.06),
    "proof_tells_nothing": lambda d: d["remedies"]["seat_lid"].update(proof="look"),
    "row_below_background": _row("lid_loose", "tint", {"dark": 0.1, "milky": 0.01}),
    "background_above_causes": lambda d: (
        d["findings"]["hiss"].update(background={"yes": 0.4, "no": 0.6})
        or d["mechanisms"]["leak"].update(shows={"hiss": 0.3, "tint": {"milky": 0.6}})
    ),
    "cure_test_gap": lambda d: d["findings"]["hiss"].update(kind="cure_test"),
    "hazard_without_caution": _step("look", "Wipe it with isopropanol."),
    "effect_not_declared": _step("look", "Pump down and look at it again."),
    "effect_declared_twice": lambda d: d["checks"]["look"].update(does=["pump_runs", "mains_on"]),
    "spoken_of_in_vain": lambda d: d["checks"]["look"].update(spoken_of={"gas_in": "a name only"}),
    "effect_without_caution": lambda d: (
        d["remedies"]["change_bulb"].update(does=["presses_glass"])
        or d["cautions"].update(damaged_glass=dict(d["cautions"]["fingers"]))
    ),
    "stop_without_ban": lambda d: d["cautions"]["smoke"].pop("bans"),
    "source_missing": lambda d: d["findings"]["hiss"].update(source="TODO"),
    "row_against_physics": lambda d: (
        d["mechanisms"]["leak"].update(charge="floating")
        or d["findings"]["hiss"].update(
            turned={"control": "dwell", "better": ["yes"], "same": ["no"]}
        )
    ),
    "cure_against_physics": lambda d: (
        d["mechanisms"]["leak"].update(charge="floating")
        or d["remedies"]["seat_lid"].update(coats=0.5)
    ),
    "plug_out_for_student": lambda d: (
        d["remedies"]["seat_lid"].update(state="unplugged", hazards=["fingers", "lock_out"])
        or d["cautions"].update(lock_out=dict(d["cautions"]["fingers"]))
    ),
    "cover_for_student": _step("look", "Take off the side cover and look.", does=["guard_off"]),
}


@pytest.mark.parametrize("name", SENSE)
def test_sense(name, tmp_path):
    found = names(changed(tmp_path, SENSE[name]), "sense")
    beside = {"background_above_causes": {"proof_tells_nothing"}}.get(name, set())
    assert found == {name} | beside


def test_nothing_to_remark_on_a_lesson_and_a_step(tmp_path):
    def both(data):
        _lesson()(data)
        _routine()(data)

    assert check([changed(tmp_path, both)]) == []


def test_what_a_denial_or_a_caution_reads_may_be_asked_though_no_cause_shows_it(tmp_path):
    """It settles other questions, or stops what is dangerous."""

    def denies(data):
        _idle_world(data)
        _unused_presupposition(data)
        data["findings"]["hiss"]["presumes"] = ["lit"]

    def warns(data):
        _idle_world(data)
        data["derivations"] = {
            "dark_is_dangerous": {
                "when": [{"finding": "tint", "is": "dark"}],
                "then": [{"caution": "fingers"}],
                "because": "so",
                "source": "judgement",
            }
        }

    for number, change in enumerate((denies, warns)):
        assert names(changed(tmp_path / str(number), change), "reachability") == set()


def test_every_check_is_provoked_above():
    checks = {"style": STYLE, "reachability": REACHABILITY, "sense": SENSE}
    registered = {"style": STYLE_CHECKS, **VIEWED}
    for layer, cases in checks.items():
        beside = {"drawing_unused"} if layer == "reachability" else set()  # a file, not an entry
        assert {*cases, *beside} == {c.__name__ for c in registered[layer]}


def _twin_declared(data: tiny.Data) -> None:
    _twin(data)
    data["causes"]["lid_crooked"]["alike"] = ["lid_loose"]


def _twin_same_remedy(data: tiny.Data) -> None:
    _twin(data)
    data["causes"]["lid_crooked"]["remedies"] = ["seat_lid"]


def _twin_elsewhere(data: tiny.Data) -> None:
    _twin(data)
    data["causes"]["lid_crooked"]["machine"] = {"chamber": "metal"}
    data["causes"]["lid_loose"]["machine"] = {"chamber": "glass"}


def _twin_told_apart(data: tiny.Data) -> None:
    _twin(data)
    data["causes"]["lid_crooked"]["shows"] = {"hiss": 0.39}


@pytest.mark.parametrize(
    "change", [_twin_declared, _twin_same_remedy, _twin_elsewhere, _twin_told_apart]
)
def test_twins_that_may_stay(change, tmp_path):
    assert names(changed(tmp_path, change), "sense") == set()


def test_twins_a_shade_too_close(tmp_path):
    def change(data):
        _twin(data)
        data["causes"]["lid_crooked"]["shows"] = {"hiss": 0.41}

    (remark,) = check([changed(tmp_path, change)], ["sense"])
    assert "at best 'hiss', 0.29" in remark.message


def test_a_finding_that_nobody_can_answer_tells_nothing_apart(tmp_path):
    def change(data):
        _twin(data)
        data["findings"]["smear"] = dict(data["findings"]["hiss"])
        data["causes"]["lid_crooked"]["shows"] = {"smear": 0.9}

    assert names(changed(tmp_path, change), "sense") == {"causes_not_told_apart"}


@pytest.mark.parametrize("row", [0.06, {"no": 0.94}])
def test_an_inherited_row_may_be_taken_back(row, tmp_path):
    def change(data):
        data["causes"]["bulb_dark"]["mechanisms"] = ["leak"]
        _row("lid_loose", "hiss", row)(data)
        data["causes"]["lid_loose"]["shows"]["tint"] = {"milky": 0.8}
        data["remedies"]["seat_lid"]["proof"] = "look"

    assert names(changed(tmp_path, change), "sense") == set()


def test_a_cure_test_may_say_that_nothing_goes_away(tmp_path):
    def change(data):
        data["findings"]["hiss"]["kind"] = "cure_test"
        data["causes"]["bulb_dark"]["shows"]["hiss"] = 0.04

    assert names(changed(tmp_path, change), "sense") == set()


def test_a_bystander_needs_no_row_in_a_cure_test(tmp_path):
    def change(data):
        data["findings"]["hiss"]["kind"] = "cure_test"
        data["causes"]["bulb_dark"]["complaints"]["slow"] = 0.29

    assert names(changed(tmp_path, change), "sense") == set()


@pytest.mark.parametrize(
    "step",
    ["Never use isopropanol.", "Wipe it dry, without any solvent.", "No cover comes off."],
)
def test_what_is_forbidden_is_not_done(step, tmp_path):
    assert names(changed(tmp_path, _step("look", step)), "sense") == set()


def test_a_caution_that_fits_is_enough(tmp_path):
    def change(data):
        _step("look", "Wipe it with isopropanol.", hazards=["solvents"])(data)
        data["cautions"]["solvents"] = dict(data["cautions"]["fingers"])

    assert names(changed(tmp_path, change), "sense") == set()


@pytest.mark.parametrize(
    ("state", "caution"),
    [("coating", "high_voltage"), ("unplugged", "lock_out"), ("pump_off", "oil_suck_back")],
)
def test_a_state_needs_its_caution(state, caution, tmp_path):
    folder = changed(tmp_path, lambda d: d["checks"]["look"].update(state=state))
    (remark,) = check([folder], ["sense"])
    assert remark.remedy == f"add {caution} to its `hazards`"


def test_of_what_is_undeclared_only_the_word_that_brings_the_rest_is_named(tmp_path):
    folder = changed(tmp_path, _step("look", "Pump down and look at it again."))
    (remark,) = check([folder], ["sense"])
    assert remark.place.key == "checks.look"
    assert remark.remedy == "add 'under_vacuum' to its `does`, or the reason why not to `spoken_of`"


@pytest.mark.parametrize(
    "more",
    [
        {"does": ["under_vacuum"]},
        {"state": "pumped"},
        {"leaves": "pumped"},
        {"state": "in_sem"},  # pumping down there is the microscope's business
        {"spoken_of": dict.fromkeys(["under_vacuum", "pump_runs", "mains_on"], "the microscope")},
    ],
)
def test_an_effect_is_declared_in_one_way_or_excused(more, tmp_path):
    assert names(changed(tmp_path, _step("look", "Pump down and look.", **more)), "sense") == set()


@pytest.mark.parametrize(
    "step", ["Do not pump down.", "Look at it without pumping it empty, not at base."]
)
def test_what_is_forbidden_has_no_effect(step, tmp_path):
    assert names(changed(tmp_path, _step("look", step)), "sense") == set()


@pytest.mark.parametrize(
    "more",
    [
        {"does": ["discharge", "gas_in"]},
        {"state": "pumped", "does": ["pump_runs"]},
        {"leaves": "pumped", "does": ["under_vacuum"]},
    ],
)
def test_what_follows_from_the_rest_is_not_declared(more, tmp_path):
    folder = changed(tmp_path, lambda d: d["checks"]["look"].update(more))
    assert names(folder, "sense") == {"effect_declared_twice"}


@pytest.mark.parametrize(
    ("word", "step"), [("gas_in", "Be quiet."), ("under_vacuum", "Pump down and look.")]
)
def test_an_exception_is_needed_only_where_the_text_gives_away_what_is_not_done(
    word, step, tmp_path
):
    change = _step("look", step, does=["under_vacuum"], spoken_of={word: "so"})
    (remark,) = check([changed(tmp_path, change)], ["sense"])
    assert (remark.name, remark.place.key) == ("spoken_of_in_vain", f"checks.look.spoken_of.{word}")


def _way(data: tiny.Data, **more: object) -> None:
    data["workarounds"] = {
        "by_hand": {
            "source": "judgement",
            "name": "By hand",
            "steps": ["Press the lid."],
            "expect": "It is slow.",
            "complaints": ["slow"],
            "minutes": {"hands": 1},
            **more,
        }
    }


@pytest.mark.parametrize(
    ("more", "found"),
    [
        ({}, {"effect_not_declared"}),
        ({"does": ["presses_glass"]}, {"effect_without_caution"}),
        ({"does": ["presses_glass"], "hazards": ["damaged_glass"]}, set()),
    ],
)
def test_a_way_round_declares_what_it_does_too(more, found, tmp_path):
    def change(data):
        _way(data, **more)
        data["cautions"]["damaged_glass"] = dict(data["cautions"]["fingers"])

    assert names(changed(tmp_path, change), "sense") == found


def test_one_of_the_cautions_that_fit_an_effect_is_enough(tmp_path):
    def change(data):
        for name in ("damaged_glass", "glass_under_vacuum"):
            data["cautions"][name] = dict(data["cautions"]["fingers"])
        data["checks"]["look"].update(does=["presses_glass"], hazards=["glass_under_vacuum"])

    assert names(changed(tmp_path, change), "sense") == set()


def test_a_caution_that_stops_nothing_may_ban_nothing(tmp_path):
    folder = changed(tmp_path, lambda d: d["cautions"]["smoke"].update(stop_now=False, bans=[]))
    assert names(folder, "sense") == set()


@pytest.mark.parametrize("source", ["?", "n/a", "tbd", "see ??", "-", "from a page (FIXME)"])
def test_fillers_are_no_sources(source, tmp_path):
    folder = changed(tmp_path, lambda d: d["settings"].update(source=source))
    assert names(folder, "sense") == {"source_missing"}


@pytest.mark.parametrize("source", ["judgement", "common practice, no source", "Q = V dp/dt"])
def test_honest_sources(source, tmp_path):
    folder = changed(tmp_path, lambda d: d["settings"].update(source=source))
    assert names(folder, "sense") == set()


# --- a lab's own folder on top --------------------------------------------------------------------


def test_only_what_the_upper_folder_brings_in_is_remarked(tmp_path):
    base = changed(tmp_path / "base", _spare_mechanism)
    lab = tmp_path / "lab"
    tiny.write(lab, {"findings": {"smear": tiny.rules()["findings"]["hiss"]}})
    found = check([base, lab])
    assert {remark.name for remark in found} == {"finding_unrevealed", "finding_unspoken"}
    assert {remark.place.file for remark in found} == {str(lab / "all.yaml")}


def test_what_the_upper_folder_breaks_below_is_remarked(tmp_path):
    base = tiny.write(tmp_path / "base", tiny.rules())
    lab = tmp_path / "lab"
    tiny.write(lab, {"checks": {"look": dict(tiny.rules()["checks"]["look"], reveals=["hiss"])}})
    found = {r.name for r in check([base, lab])}
    assert found == {"finding_unrevealed", "proof_tells_nothing"}
