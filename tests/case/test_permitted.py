"""What may not be offered, by each reason, on a few made-up actions and cautions."""

import pytest

from tests.reasoning.small import action, rule_base
from troubleshoot.case.permitted import Standing, all_refused, because, refusal
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import ROLES, Caution, Workaround

ACTIONS = [
    action("look"),
    action("pump", state="pumped"),
    action("coat", leaves="coating"),
    action("flush", does=["gas_in"]),
    action("press", specimen="marks"),
    action("burn", specimen="spends"),
    action("lift", machine={"chamber": "glass"}),
    action("change_glass", "remedy", does=["presses_glass"], proof="pump_down"),
    action("pump_down", does=["under_vacuum"]),
    action("have_it_mended", "remedy", role="service", does=["presses_glass"], proof="prove"),
    action("prove", role="service", does=["under_vacuum"]),
    action("reconnect", "remedy", does=["gas_in"], proof="flush"),
]


def caution(name, **more):
    return Caution.model_validate(
        {
            "id": name,
            "source": "made up",
            "name": f"The {name}",
            "hazard": "so",
            "precaution": "so",
            **more,
        }
    )


def way(name, **more):
    return Workaround.model_validate(
        {
            "id": name,
            "source": "made up",
            "name": name,
            "steps": ["do it"],
            "expect": "so",
            "complaints": ["trouble"],
            "minutes": {"hands": 1.0},
            **more,
        }
    )


CAUTIONS = [
    caution(
        "crack",
        stop_now=True,
        bans=["under_vacuum", "presses_glass"],
        repair=["change_glass", "have_it_mended"],
    ),
    caution("alarm", stop_now=True, bans=["anything"]),
    caution("fumes", stop_now=True),  # stops, and bans nothing afterwards
    caution("wrong_gas", bans=["gas_in"], repair=["reconnect"]),
]
WAYS = [
    way("wait"),
    way("coat_anyway", does=["discharge"]),
    way("etch", specimen="marks"),
    way("run_by_hand", machine={"programme": "yes"}),
]
RULES = rule_base((), (), ACTIONS).model_copy(
    update={"cautions": {c.id: c for c in CAUTIONS}, "workarounds": {w.id: w for w in WAYS}}
)
EVERYTHING = {*RULES.actions, *RULES.workarounds}
IN_CHARGE = ("in_charge", "service")


def standing(role="student", facts=None, **more) -> Standing:
    return Standing(RULES, Machine(facts=facts or {}), role, **more)


def why(name, at: Standing):
    """The kind of reason for which `name` is refused, or None."""
    found = refusal(at, RULES.actions.get(name) or RULES.workarounds[name])
    return found and found.kind


@pytest.mark.parametrize("role", ROLES)
def test_where_nothing_is_known_everything_may_be_offered(role):
    assert all_refused(standing(role)) == {}


def test_all_that_is_refused_is_refused_for_the_reason_given_one_by_one():
    """Actions and ways round, by ID, and nothing that may be offered."""
    at = standing(irreplaceable=True, facts={"chamber": "metal"}, bans=("crack", "wrong_gas"))
    found = all_refused(at)
    for name in EVERYTHING:
        assert found.get(name) == refusal(at, RULES.actions.get(name) or RULES.workarounds[name])
    left = {"look", "wait", "run_by_hand", "have_it_mended", "reconnect"}
    assert EVERYTHING - found.keys() == left


def test_what_this_coater_lacks():
    assert why("lift", standing(facts={"chamber": "metal"})) == "machine"
    assert why("lift", standing(facts={"chamber": "glass"})) is None
    assert all_refused(standing(facts={"chamber": "metal"})).keys() == {"lift"}
    assert all_refused(standing(facts={"programme": "no"})).keys() == {"run_by_hand"}


def test_what_a_rule_took_out_of_reach_has_the_reason_of_the_rule():
    at = standing(out_of_reach={"look": "It is dark."})
    assert all_refused(at).keys() == {"look"}
    found = refusal(at, RULES.actions["look"])
    assert (found.kind, found.because) == ("reach", "It is dark.")


def test_what_marks_or_spends_a_specimen_that_cannot_be_replaced():
    found = all_refused(standing(irreplaceable=True))
    assert {name: w.kind for name, w in found.items()} == dict.fromkeys(
        ("press", "burn", "etch"), "specimen"
    )


# --- bans ---------------------------------------------------------------------------------------


def test_a_ban_forbids_what_does_it_declared_or_by_the_state_of_the_machine():
    """A word that comes with another counts: a discharge is under vacuum."""
    found = all_refused(standing(bans=("crack",)))
    assert {w.kind for w in found.values()} == {"ban"}
    assert found.keys() == {
        "pump", "coat", "coat_anyway", "change_glass", "pump_down", "prove",
    }  # fmt: skip


def test_a_ban_does_not_look_at_what_is_not_in_force():
    assert why("flush", standing(bans=("crack",))) is None
    assert why("flush", standing(bans=("wrong_gas",))) == "ban"
    assert why("flush", standing(bans=("crack", "wrong_gas"))) == "ban"
    assert all_refused(standing(bans=("fumes",))) == {}


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("done", [frozenset(), frozenset(RULES.actions)])
def test_anything_leaves_nothing_to_be_done_by_anybody(role, done):
    found = all_refused(standing(role, bans=("alarm",), done=done))
    assert found.keys() == EVERYTHING


def test_a_repair_of_one_danger_is_still_banned_by_another():
    at = standing("in_charge", bans=("crack", "alarm"))
    assert why("change_glass", at) == "ban"
    assert refusal(at, RULES.actions["change_glass"]).because == because(RULES.cautions["alarm"])


def test_the_reason_says_whether_it_must_be_repaired_and_proved():
    assert because(RULES.cautions["crack"]) == "Not before this is repaired and proved: The crack."
    assert because(RULES.cautions["wrong_gas"]) == "Not while this holds: The wrong_gas."
    assert refusal(standing(bans=("crack",)), RULES.actions["pump"]).because == because(
        RULES.cautions["crack"]
    )


# --- the repair and its proof -------------------------------------------------------------------


@pytest.mark.parametrize("role", ROLES)
def test_a_danger_is_repaired_by_those_in_charge_only(role):
    at = standing(role, bans=("crack",))
    assert why("change_glass", at) == (None if role in IN_CHARGE else "ban")


@pytest.mark.parametrize("role", ROLES)
def test_a_repair_that_is_services_own_may_be_offered_to_anybody(role):
    """Whoever asks, it is service that comes."""
    assert why("have_it_mended", standing(role, bans=("crack",))) is None


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize(
    ("repair", "proof"), [("change_glass", "pump_down"), ("have_it_mended", "prove")]
)
def test_the_proof_of_a_danger_comes_after_its_repair_and_in_the_same_hands(role, repair, proof):
    """Even where the proof is service's own, somebody in charge has to ask for it."""
    entitled = role in IN_CHARGE
    for done in (set(), {"look"}, {"reconnect"}):  # reconnecting is no repair of this
        assert why(proof, standing(role, bans=("crack",), done=frozenset(done))) == "ban"
    after = standing(role, bans=("crack",), done=frozenset({repair}))
    assert why(proof, after) == (None if entitled else "ban")
    others = {"pump_down", "prove"} - {proof}
    assert {why(other, after) for other in others} == {"ban"}
    assert why("pump", after) == "ban"


@pytest.mark.parametrize("role", ROLES)
def test_what_is_no_danger_anybody_may_repair_and_prove(role):
    before = standing(role, bans=("wrong_gas",))
    assert why("reconnect", before) is None
    assert why("flush", before) == "ban"
    after = standing(role, bans=("wrong_gas",), done=frozenset({"reconnect"}))
    assert why("flush", after) is None
    assert why("coat_anyway", after) == "ban"


def test_a_way_round_is_never_the_repair():
    """Only an action is: a way round of the same name as a repair stays banned."""
    twin = way("reconnect", does=["gas_in"])
    assert refusal(standing("service", bans=("wrong_gas",)), twin).kind == "ban"


def test_a_repair_may_still_spoil_the_specimen_or_be_out_of_reach():
    """To be the repair lifts the ban, and nothing else."""
    at = standing("in_charge", bans=("crack",), out_of_reach={"change_glass": "No glass."})
    assert why("change_glass", at) == "reach"
    marking = RULES.actions["change_glass"].model_copy(update={"specimen": "marks"})
    kept = standing("in_charge", bans=("crack",), irreplaceable=True)
    assert refusal(kept, marking).kind == "specimen"
