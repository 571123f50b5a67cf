"""Steps never stand without their cautions, and only one module reads them out of the rules."""

import ast
import html
import re
from pathlib import Path

import pytest

import troubleshoot
from tests.talk.scripted import Recorder
from troubleshoot.advice import instruction
from troubleshoot.advice import verdict as verdicts
from troubleshoot.advice.page import page_of
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.cli.setup import demo_files
from troubleshoot.show.html.pages import forms, render
from troubleshoot.talk.telling import tell

AT = "2026-01-05T09:00:00"
PACKAGE = Path(troubleshoot.__file__).parent
# The rules themselves, the one reader, and what shows a finished instruction (named `do`).
READERS = {"knowledge", "advice/instruction.py"}


def test_only_one_module_reads_steps_out_of_the_rules():
    """Elsewhere `.steps` and `.make_safe` are read of a finished instruction or box only."""
    for path in PACKAGE.rglob("*.py"):
        name = path.relative_to(PACKAGE).as_posix()
        if name.split("/")[0] in READERS or name in READERS:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and node.attr in ("steps", "make_safe"):
                owner = node.value
                of = owner.id if isinstance(owner, ast.Name) else getattr(owner, "attr", "")
                assert of in ("do", "box", "teller", "out", "tell"), f"{name}: {of}.{node.attr}"


def test_templates_show_steps_through_the_macro_with_cautions():
    for path in (PACKAGE / "show" / "html" / "templates").glob("*.j2"):
        text = path.read_text(encoding="utf-8")
        for use in re.findall(r"parts\.steps\(([^)]*)\)", text):
            # A form and the first page of a report have boxed the cautions before.
            boxed = {"forms.html.j2": "form.do.steps", "report.html.j2": "do.steps"}
            assert use == boxed.get(path.name), f"{path.name}: {use}"


@pytest.mark.first_quick(2)
@pytest.mark.parametrize("path", demo_files(), ids=lambda p: p.stem)
def test_every_printed_step_has_every_caution_of_its_action(path, rules):
    """In report and forms: where the steps of something stand, its hazards are named too."""
    case_file = read_case(path, rules, AT)
    bench = Bench(rules, case_file.machine)
    shown = page_of(bench.assess(case_file.journal), case_file.journal)
    for page in (render(shown, made_at="now"), forms(shown)):
        flat = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())
        for doing in (*rules.actions.values(), *rules.workarounds.values()):
            steps = [" ".join(s.split()) for s in doing.steps]
            if all(s in flat for s in steps) and sum(len(s) for s in steps) > 80:
                before = flat[: flat.index(steps[0])]
                for name in doing.hazards:
                    assert rules.cautions[name].name in before, f"{doing.id} without {name}"


def test_what_is_told_has_its_cautions_first_each_time(rules):
    """The first time in full, later in a line: never steps alone."""
    site, told, teller = instruction.Site(rules), set(), Recorder()
    for name in ("witness_slip", "coat_dummy"):
        do = instruction.for_action(site, rules.actions[name])
        assert do.cautions
        at = len(teller.told)
        tell(teller, do, told)
        kinds = [kind for kind, _ in teller.told[at:]]
        heard = " ".join(text for _, text in teller.told[at:])
        assert kinds.index("step") > max(
            i for i, k in enumerate(kinds) if k in ("caution", "small")
        )
        for box in do.cautions:
            assert box.name in heard


def test_an_instruction_says_who_where_and_with_what(rules):
    site = instruction.Site(rules, role="student", state="pumped")
    do = instruction.for_action(site, rules.actions["replace_glass"])
    assert "person in charge" in do.fetch
    assert do.who == "the person in charge"
    assert "plug out" in do.prepare
    assert do.parts == "a spare part"


def test_the_proof_of_a_remedy_is_not_named_while_it_may_not_be_done(rules):
    remedy = rules.actions["wipe_and_reseat_seals"]
    assert instruction.for_action(instruction.Site(rules), remedy).proof
    barred = instruction.Site(rules, barred={remedy.proof: "banned"})
    assert instruction.for_action(barred, remedy).proof == ""


def test_a_lab_complaint_with_a_single_cause_has_a_verdict(rules):
    from troubleshoot.case.journal import append
    from troubleshoot.coater.machine import Machine

    only = "seal_dirty"
    causes = {
        n: c if n == only else c.model_copy(update={"complaints": {
            k: v for k, v in c.complaints.items() if k != "slow_pump_down"}})
        for n, c in rules.causes.items()
    }  # fmt: skip
    bench = Bench(rules.model_copy(update={"causes": causes}), Machine())
    journal = append((), AT, "complaint", bench.rules, complaint="slow_pump_down")
    journal = append(journal, AT, "finding", bench.rules, finding="seal_look",
                     answer="dust_or_flakes")  # fmt: skip
    case = bench.assess(journal)
    assert [c.id for c, _ in verdicts.suspects(case)] == [only]
    assert verdicts.verdict(case).hypothesis == only


def test_a_dummy_is_asked_for_where_it_can_serve(rules):
    """A check can be made on a dummy; a remedy done on one would help nobody."""
    site, marking = (
        instruction.Site(rules),
        [a for a in rules.actions.values() if a.specimen != "safe"],
    )
    assert {bool(a.cures) for a in marking} == {True, False}
    for action in marking:
        told = instruction.for_action(site, action).specimen
        assert told
        assert ("dummy" in told) is not bool(action.cures), action.id
