"""Drills: what is shown is physics, what is hazardous is stopped, nothing is learnt from."""

import io
import math
import random
from dataclasses import replace

import pytest

from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.casebook import drills
from troubleshoot.casebook.statistics import statistics
from troubleshoot.casebook.store import Store
from troubleshoot.casebook.tally import tally
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.readings.image.micrograph import analyse
from troubleshoot.show.sheets.exam import exam_sheet, lines_of
from troubleshoot.show.sheets.files import as_pdf
from troubleshoot.sources.image_file import Picture
from troubleshoot.training.drill.at_the_coater import curve_of, micrograph_of, on_the_coater
from troubleshoot.training.drill.debrief import NOTHING, at_best, by_planner, is_right
from troubleshoot.training.drill.play import play
from troubleshoot.training.drill.progress import kept_of, next_level, summary
from troubleshoot.training.drill.room import Room
from troubleshoot.training.drill.trouble import (
    GAUGES,
    LEVELS,
    PROFILE,
    SOMETIMES_NOTHING,
    Trouble,
    drawn,
    from_case,
    practice_machine,
)
from troubleshoot.training.figures import Curve, Curves
from troubleshoot.training.letters import as_text, needle

AT = "2026-03-02T09:00:00"


@pytest.fixture(scope="module")
def practice(rules):
    return Bench(rules, practice_machine())


def trouble(practice, complaint, *causes, **more):
    return Trouble(complaint, causes, practice.machine, "It is odd.", 1, 7, **more)


class Listed:
    """Answers from a list, and keeps all that is told."""

    def __init__(self, *answers):
        self.answers, self.told = list(answers), []

    def choose(self, question, choices, about=None):
        wanted = self.answers.pop(0)
        assert wanted in [c.value for c in choices], (wanted, [c.value for c in choices])
        return wanted

    def title(self, text):
        self.told.append(text)

    line = small = title

    def steps(self, items):
        self.told += items

    def caution(self, head, text, urgent):
        self.told += [head, text]

    @property
    def text(self):
        return "\n".join(self.told)


def played(room, *answers, **more):
    listed = Listed(*answers)
    return play(room, listed, listed, **more), listed.text


# --- what it shows -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("complaint", "cause", "shows"),
    [
        # What must be so by the balance of gas: Q = S p at the base and V dp/dt with the pump shut
        # off (O'Hanlon, A User's Guide to Vacuum Technology, from memory), whatever the rules say.
        ("pressure_not_reached", "vent_not_closed",
         {"rise_against_base": "gas_comes_in", "load_contrast": "same_empty"}),
        ("pressure_not_reached", "pump_worn",
         {"rise_against_base": "too_small_for_base", "load_contrast": "same_empty"}),
        ("pressure_not_reached", "specimen_wet",
         {"rise_against_base": "gas_comes_in", "load_contrast": "usual_empty"}),
        ("pressure_not_reached", "gauge_contaminated", {"second_gauge": "coater_high"}),
        ("pressure_not_reached", "hose_collapsed", {"curve_shape": "slow_throughout"}),
        # What is switched off gives no glow, and a short gives its current without one.
        ("no_strike", "hv_control_zero", {"glow": "none", "hv_volts": "zero"}),
        ("no_strike", "shield_shorted", {"glow": "none", "hv_volts": "low_high_current"}),
        # Half of a coat and a coat that touches nothing (Goldstein et al., 4th ed., from memory).
        ("too_thin", "timer_error", {"slip_density": "lighter", "timer_check": "short"}),
        ("images_charge", "ground_path_poor", {"picture_shows": "jumps", "top_to_stub": "open"}),
    ],
)  # fmt: skip
def test_what_is_seen_on_the_coater_is_what_physics_demands(practice, complaint, cause, shows):
    coater = on_the_coater(trouble(practice, complaint, cause), practice.rules)
    assert {f: coater.answer(f) for f in shows} == shows


def test_a_sound_coater_is_usual_by_its_own_profile(practice):
    coater = on_the_coater(trouble(practice, "slow_pump_down"), practice.rules)
    machine = machine_from({**PROFILE, **coater.normal}, "x")
    base = float(coater.answer("base_loaded").split()[0])
    assert base == pytest.approx(machine.numbers["usual_base"] / 100, rel=0.15)
    assert coater.answer("rise_against_base") == "fits_usual"
    assert coater.answer("curve_shape") == "usual"


@pytest.mark.parametrize("cause", ["ground_path_poor", "timer_error"])
def test_the_picture_that_follows_from_the_coat_is_read_as_charging(rules, practice, cause):
    """By the reader of micrographs, which knows nothing of the coat."""
    coater = on_the_coater(trouble(practice, "images_charge", cause), rules)
    made = micrograph_of(rules.actions["read_saved_picture"], coater.at)
    saved = Picture("made.png", "0" * 64, made.pixels, 255, False, None)
    assert {"bands", "flare", "jumps"} & set(analyse((saved,), rules.findings).looks[0].found)
    assert micrograph_of(rules.actions["rate_of_rise"], coater.at) is None


def test_a_trouble_that_no_physics_shows_is_drawn_from_the_rules(rules, practice):
    assert on_the_coater(trouble(practice, "images_charge", "beam_kv_high"), rules) is None
    assert on_the_coater(trouble(practice, "too_thick", "seal_dirty"), rules) is None
    told = trouble(practice, "no_strike", "hv_control_zero", known={"glow": "none"})
    assert on_the_coater(told, rules) is None


def test_the_current_is_drawn_while_it_is_watched(practice):
    """A supply that trips when hot: milliamperes, and none after it has tripped."""
    one = trouble(practice, "unstable_current", "hv_supply_hot")
    curve = curve_of("two_minute_hold", on_the_coater(one, practice.rules).at)["The current"]
    assert curve.unit == "mA"
    assert curve.values[0] > 1 > curve.values[-1]


def test_curves_that_lie_on_one_another_take_turns():
    one = Curve("one", tuple(range(60)), tuple(0.1 * n for n in range(60)))
    rows = "".join(as_text(Curves("two", (one, replace(one, name="other"))))[:-2])
    assert abs(rows.count("A") - rows.count("B")) <= 4
    assert rows.count("A") > 10


def test_the_needle_stands_at_its_decade():
    scale, ticks, pointer = needle(0.1)
    assert scale[pointer.index("^") :].startswith("0.1")
    assert ticks[pointer.index("^")] == "|"
    between = needle(math.sqrt(0.1 * 1.0))[2].index("^")
    assert pointer.index("^") < between < needle(1.0)[2].index("^")


def test_it_looks_the_same_again_until_something_is_cured(rules, practice):
    room = Room(practice, trouble(practice, "pump_noise_oil", "gas_ballast_open"))
    first, _ = room.look(rules.actions["read_knobs"])
    assert {s.finding: s.answer for s in first}["ballast_knob"] == "open"
    assert room.look(rules.actions["read_knobs"])[0] == []
    assert room.again(rules.actions["read_knobs"])[0].answer == first[0].answer
    assert room.attempt(rules.actions["close_ballast"])
    after, _ = room.look(rules.actions["read_knobs"])
    assert {s.finding: s.answer for s in after}["ballast_knob"] == "closed"


# --- what is drawn -----------------------------------------------------------------------------


@pytest.mark.parametrize("level", LEVELS)
def test_a_seed_repeats_a_drill_and_levels_are_what_they_say(practice, level):
    many = [drawn(practice, level, seed) for seed in range(8)]
    assert many == [drawn(practice, level, seed) for seed in range(8)]
    counts = {len(t.causes) for t in many}
    assert counts <= {1: {1}, 2: {1}, 3: {0, 1}, 4: {0, 1}, 5: {0, 1, 2}}[level]
    for one in many:
        assert all(one.complaint in practice.rules.causes[c].complaints for c in one.causes)
        assert one.story in {s.told for s in practice.rules.stories.values()}


def test_neither_level_nor_complaint_gives_away_what_it_is(practice):
    """At each level above 2 no kind makes up more than two thirds, and nothing is also wrong."""
    for level in (3, 4, 5):
        many = [drawn(practice, level, seed) for seed in range(60)]
        kinds = [
            "two" if len(t.causes) > 1 else "nothing" if not t.causes
            else "gauge" if set(t.causes) <= set(GAUGES) else "one"
            for t in many
        ]  # fmt: skip
        assert len(set(kinds)) > 1
        assert max(map(kinds.count, kinds)) <= 40
    for seed in range(60):
        complaint = practice.rules.complaints[drawn(practice, 3, seed).complaint]
        assert complaint.normal_share >= SOMETIMES_NOTHING


def test_harder_levels_hold_what_makes_them_hard(practice):
    assert any(not drawn(practice, 3, seed).causes for seed in range(12))
    assert any("gauge" in "".join(drawn(practice, 4, seed).causes) for seed in range(12))
    assert any(len(drawn(practice, 5, seed).causes) == 2 for seed in range(12))
    with pytest.raises(UserError, match="no level 9"):
        drawn(practice, 9, 1)


def test_stories_give_no_cause_away(rules):
    for story in rules.stories.values():
        for cause in rules.causes.values():
            assert cause.name.lower() not in story.told.lower()


# --- how it is played --------------------------------------------------------------------------


def test_a_drill_is_played_to_its_end_and_told_afterwards(practice):
    room = Room(practice, trouble(practice, "pressure_not_reached", "seal_dirty"))
    done, text = played(
        room, "look", "rate_of_rise", "seen", "hint", "do", "wipe_and_reseat_seals",
        "say", "seal_dirty", "/that",
    )  # fmt: skip
    found = done.debrief
    assert found.right
    assert "The complaint is gone" in text
    assert "An expert would now" in text
    assert "What told most" in text
    assert "troubleshoot learn" in text
    assert found.best.minutes <= found.planner.minutes
    assert found.best.minutes <= found.mine.minutes
    assert found.mine.done == ("Rate of rise", "Wipe the seals and seat them again")


def test_a_wrong_diagnosis_is_told_what_should_have_changed_it(practice):
    room = Room(practice, trouble(practice, "pressure_not_reached", "gas_ballast_open"))
    done, text = played(room, "look", "read_knobs", "say", "pump_worn", "/that")
    assert not done.debrief.right
    assert "What should have changed your mind: Gas ballast knob" in text
    assert "Tempting, and wrong" in text


def test_who_looked_at_nothing_could_not_know(practice):
    room = Room(practice, trouble(practice, "pressure_not_reached", "seal_dirty"))
    done, _ = played(room, "say", NOTHING)
    assert not done.debrief.right
    assert "look further" in done.debrief.turning


def test_a_guess_is_not_right(practice):
    room = Room(practice, trouble(practice, "slow_pump_down"))
    done, text = played(room, "say", NOTHING)
    assert not done.debrief.right
    assert "looked at nothing does not know" in text
    room = Room(practice, trouble(practice, "slow_pump_down"))
    done, _ = played(room, "look", "timed_pump_down", "say", NOTHING)
    assert done.debrief.right


def test_without_help_there_is_no_hint(practice):
    room = Room(practice, trouble(practice, "pressure_not_reached", "seal_dirty"))
    with pytest.raises(AssertionError):
        played(room, "hint", helped=False)


def test_what_is_hazardous_is_stopped_explained_and_counted(rules, practice):
    """A chip is seen: nothing more before it is made safe, and no pumping afterwards."""
    room = Room(practice, trouble(practice, "pressure_not_reached", "glass_chipped"))
    listed = Listed(
        "look", "look_at_seals", "look", "timed_pump_down", "safe", "look", "timed_pump_down",
        "say", "glass_chipped", "/that",
    )  # fmt: skip
    done = play(room, listed, listed)
    assert [s.hazard for s in room.stopped] == [True, True]
    assert "made safe" in room.stopped[0].because
    assert "repaired and proved" in room.stopped[1].because
    assert "STOP NOW" in listed.text
    assert "Hazardous choices stopped: 2" in listed.text
    assert done.debrief.right


def test_what_is_for_service_is_done_by_service_at_its_price(rules, practice):
    room = Room(practice, trouble(practice, "no_strike", "hv_contact_fault"))
    call = rules.actions["call_hv_service"]
    assert room.stop(call) is None
    assert room.attempt(call)
    assert room.minutes >= rules.settings.service_minutes


def test_what_is_for_the_person_in_charge_is_not_a_trainees(rules, practice):
    room = Room(practice, trouble(practice, "no_strike", "hv_contact_fault"))
    theirs = next(a for a in room.remedies() if a.role == "in_charge")
    stop = room.stop(theirs)
    assert "the person in charge" in stop.because
    assert not stop.hazard
    assert Room(practice, room.trouble, "in_charge").stop(theirs) is None


def test_a_head_without_a_glow_spoils_no_specimen(rules, practice):
    room = Room(practice, trouble(practice, "no_strike", "hv_contact_fault"))
    room.look(rules.actions["read_panel_hv"])
    assert room.spoilt == 0


def test_coating_with_a_fault_that_forbids_it_spoils_a_specimen(rules, practice):
    cause = next(
        c for c in rules.causes.values()
        if c.today.verdict == "do_not" and "unstable_current" in c.complaints
        and practice.machine.allows(c.machine)
    )  # fmt: skip
    room = Room(practice, trouble(practice, "unstable_current", cause.id))
    coats = next(a for a in room.checks() if "discharge" in a.effects and a.role == "student")
    room.look(coats)
    assert room.spoilt == 1


def test_right_is_every_hidden_cause_and_no_other(rules):
    assert is_right(rules, (), (NOTHING,))
    assert not is_right(rules, (), ("seal_dirty",))
    assert is_right(rules, ("seal_dirty",), ("hair_on_seal",))  # treated the same
    assert not is_right(rules, ("seal_dirty",), ("seal_dirty", "pump_worn"))
    assert not is_right(rules, ("seal_dirty", "pump_worn"), ("seal_dirty",))
    assert is_right(rules, ("seal_dirty", "pump_worn"), ("pump_worn", "seal_dirty"))


def test_the_planner_plays_the_same_coater(practice):
    room = Room(practice, trouble(practice, "pressure_not_reached", "gas_ballast_open"))
    path = by_planner(room.twin())
    assert path.found
    assert path == by_planner(room.twin())
    assert at_best(room.twin()).done[-1] == "Close the gas ballast"
    assert (room.minutes, room.journal) == (0.0, Room(practice, room.trouble).journal)


# --- what is kept ------------------------------------------------------------------------------


def test_nothing_of_a_drill_is_counted_or_learnt_from(rules, practice, tmp_path):
    store = Store(str(tmp_path / "lab.db"))

    def counted():
        learnt = tally(store, "the practice coater", AT, rules.settings)
        return (
            store.cases(),
            statistics(store, None, None),
            learnt,
            store.runs("the practice coater"),
        )

    before = counted()
    room = Room(practice, trouble(practice, "pressure_not_reached", "seal_dirty"))
    done, _ = played(room, "do", "wipe_and_reseat_seals", "say", "seal_dirty", "/that")
    drills.keep(store, kept_of(done, AT, "student"))
    assert counted() == before
    (one,) = drills.kept(store, "student")
    assert (one.right, one.complaint) == (True, "pressure_not_reached")
    assert drills.kept(store, "in_charge") == []


def kept(level, right, **more):
    return drills.Kept(AT, "student", level, 1, "no_strike", right, 20.0, 15.0, 0, 0, **more)


def test_three_right_in_a_row_lead_to_the_next_level():
    assert next_level([]) == 1
    assert next_level([kept(1, True)] * 3) == 2
    assert next_level([*[kept(1, True)] * 3, kept(1, False)]) == 1
    assert next_level([kept(n, True) for n in LEVELS for _ in range(3)]) == 5
    assert "3 drills so far, 3 right" in summary([kept(1, True)] * 3)


def test_a_closed_case_becomes_a_drill_with_its_own_answers(rules, practice):
    journal = append(
        (), AT, "complaint", rules, complaint="pressure_not_reached", words="it sticks"
    )
    journal = append(journal, AT, "finding", rules, finding="ballast_knob", answer="open")
    with pytest.raises(UserError, match="Case 3 is not closed"):
        from_case(rules, 3, journal, practice.machine)
    closed = append(
        journal, AT, "closed", rules, outcome="cured", cause="gas_ballast_open",
        proved_by="fault seen",
    )  # fmt: skip
    one = from_case(rules, 3, closed, practice.machine)
    assert (one.causes, one.known) == (("gas_ballast_open",), {"ballast_knob": "open"})
    assert "it sticks" in one.story
    sights, _ = Room(practice, one).look(rules.actions["read_knobs"])
    assert {s.finding: s.answer for s in sights}["ballast_knob"] == "open"


def test_the_sheet_of_an_exam_says_how_each_drill_went(rules):
    pypdf = pytest.importorskip("pypdf")
    done = [kept(n, n != 2, exam=True) for n in LEVELS]
    assert lines_of(done, rules)[-1] == "4 of 5 right."
    (page,) = pypdf.PdfReader(io.BytesIO(as_pdf(exam_sheet(done, rules)))).pages
    text = page.extract_text()
    assert "4 of 5 right." in text
    assert "Name of the trainee" in text


class AtRandom(Listed):
    """Chooses anything, and says what it is after a dozen choices."""

    def __init__(self, seed):
        super().__init__()
        self.rng, self.chosen = random.Random(seed), 0

    def choose(self, question, choices, about=None):
        self.chosen += 1
        values = [c.value for c in choices if c.value != "/stop"]
        return "say" if self.chosen > 12 and "say" in values else self.rng.choice(values)


@pytest.mark.slow
@pytest.mark.parametrize("level", LEVELS)
def test_whatever_is_chosen_a_drill_comes_to_its_end(practice, level):
    for seed in (3, 12):
        asker = AtRandom(seed)
        room = Room(practice, drawn(practice, level, seed))
        done = play(room, asker, asker)
        assert done.debrief is not None
        if done.debrief.planner.found:
            assert done.debrief.best.minutes <= done.debrief.planner.minutes
        assert "Remember" in asker.text
