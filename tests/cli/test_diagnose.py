"""`troubleshoot diagnose`: the known outcome of every demo, one object, no waiting."""

import json
import subprocess
import sys

import pytest

from troubleshoot.cli.setup import demo_files
from troubleshoot.strict_yaml import read

DEMOS = demo_files()
KEYS = {
    "complaint", "ranking", "sets", "mended", "nothing_wrong", "unlisted", "next", "verdict",
    "today",
    "danger", "cautions", "evidence", "contradictions", "rule_base", "book", "engine",
}  # fmt: skip
NEXT_KEYS = {"kind", "id", "minutes", "why", "outcomes", "name", "say", "steps", "cautions"}


@pytest.fixture(scope="module")
def found_before():
    """Diagnoses of this module's demos, so that each is made once."""
    return {}


@pytest.fixture
def diagnosis(run, found_before):
    """The one object that `diagnose --json` prints for a demo."""

    def made(name):
        if name not in found_before:
            ended = run("diagnose", name, "--json")
            assert (ended.status, ended.err) == (0, "")
            found_before[name] = json.loads(ended.out)
        return found_before[name]

    return made


def test_there_are_demos():
    assert len(DEMOS) >= 10


@pytest.mark.first_quick(4)
@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_a_demo_comes_to_its_known_outcome(diagnosis, path, rules):
    found = diagnosis(path)
    known = read(path).data["outcome"]
    names = [r["cause"] for r in found["ranking"]]
    top = max(r["probability"] for r in found["ranking"])
    if known.get("cured"):
        assert (found["next"]["kind"], found["next"]["id"]) == ("stop", "cured")
        return
    if known.get("nothing_wrong"):
        assert found["nothing_wrong"] > max(top, found["unlisted"])
        step = found["next"]
        assert (step["kind"], step["id"], step["steps"]) == ("stop", "nothing_wrong", [])
    if "stop" in known:
        assert (found["next"]["kind"], found["next"]["id"]) == ("stop", known["stop"])
        assert [c["stop_now"] for c in found["cautions"] if c["id"] == known["stop"]] == [True]
    causes = known.get("causes", [])
    if len(causes) == 1:
        # Two causes that the rule base calls alike need not be told apart.
        assert causes[0] in names[:2]
        assert names[0] in {causes[0], *rules.causes[causes[0]].alike}
        assert top > max(found["nothing_wrong"], found["unlisted"])
    elif causes:
        assert set(causes) <= set(names[:4])


def test_a_cured_demo_was_cured_of_what_it_had(rules):
    from troubleshoot.case.casefile import read_case
    from troubleshoot.case.diagnose import Bench

    for path in DEMOS:
        case = read_case(path, rules, "2026-01-05T09:00:00")
        if case.outcome.get("cured"):
            belief = Bench(rules, case.machine).assess(case.journal).belief
            start = belief.present_at_start
            assert [max(start, key=start.get)] == case.outcome["causes"]
            assert belief.present[case.outcome["causes"][0]] < 0.1


@pytest.mark.first_quick(3)
@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_the_object_has_every_key_and_sums_up(diagnosis, path, rules):
    found = diagnosis(path)
    assert set(found) == KEYS
    assert found["complaint"] in rules.complaints
    assert found["rule_base"] == rules.hash
    ranking = [(r["cause"], r["name"], r["probability"]) for r in found["ranking"]]
    assert [p for *_, p in ranking] == sorted((p for *_, p in ranking), reverse=True)
    assert all(rules.causes[c].name == name and 0 < p < 1 for c, name, p in ranking)
    assert len(found["sets"]) == 5
    assert all(set(s) == {"causes", "probability"} for s in found["sets"])
    assert sum(s["probability"] for s in found["sets"]) + found["unlisted"] <= 1 + 1e-9
    step = found["next"]
    assert set(step) == NEXT_KEYS
    assert step["kind"] in ("check", "remedy", "stop")
    assert set(step["cautions"]) <= {c["id"] for c in found["cautions"]}
    if step["kind"] != "stop":
        action = rules.actions[step["id"]]
        assert (step["name"], step["say"]) == (action.name, action.say)
        assert (step["steps"], set(step["cautions"])) == (action.steps, set(action.hazards))
    for caution in found["cautions"]:
        entry = rules.cautions[caution["id"]]
        assert caution == {
            "id": entry.id, "text": entry.precaution, "stop_now": entry.stop_now,
            "source": entry.source,
        }  # fmt: skip
    for row in found["evidence"]:
        assert row["answers"]
        assert set(row["answers"]) <= set(rules.findings[row["finding"]].answers)
        assert row["origin"] in ("told", "measured", "reading", "derived")
        assert isinstance(row["decibans"], float)
    written = {i["finding"] for i in read(path).data["journal"] if "finding" in i}
    assert written <= {e["finding"] for e in found["evidence"]} or found["next"]["id"] == "cured"


def test_every_cause_that_this_machine_can_have_is_ranked(diagnosis, rules):
    found = diagnosis("copepod_on_a_wet_sponge")
    facts = read(demo_files()[0].parent / "machine_sieve_room.yaml").data
    possible = {
        c.id
        for c in rules.causes.values()
        if all(
            facts.get(k, v if isinstance(v, str) else v[0]) in ([v] if isinstance(v, str) else v)
            for k, v in c.machine.items()
        )
    }
    assert {r["cause"] for r in found["ranking"]} == possible


@pytest.mark.slow
def test_without_a_terminal_it_never_waits(program):
    for args in (["flakes_on_the_lower_seal"], ["flakes_on_the_lower_seal", "--json"]):
        ended = program("diagnose", *args, timeout=30)
        assert (ended.status, ended.err) == (0, "")
    assert json.loads(ended.out)["complaint"] == "pressure_not_reached"


def test_with_its_input_closed_it_never_waits(program, tmp_path):
    done = subprocess.run(
        f"{sys.executable} -m troubleshoot diagnose chip_in_the_glass --json <&-", shell=True,
        capture_output=True, timeout=30, cwd=tmp_path, check=False,
    )  # fmt: skip
    assert done.returncode == 0
    assert json.loads(done.stdout)["next"]["kind"] == "stop"


def test_a_file_leaves_no_case_behind(run):
    run("diagnose", "chip_in_the_glass", "--no-questions")
    assert json.loads(run("cases", "list", "--json").out) == {"cases": []}


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_a_danger_is_an_object_of_its_own(diagnosis, path, rules):
    found = diagnosis(path)
    known = read(path).data["outcome"]
    if "stop" not in known:
        assert found["danger"] is None
        return
    caution = rules.cautions[known["stop"]]
    assert found["danger"] == {
        "id": caution.id, "name": caution.name, "text": caution.precaution, "made_safe": False,
        "bans": caution.bans, "others": [],
    }  # fmt: skip
    assert caution.bans
    assert found["next"]["steps"] == caution.make_safe
    assert found["verdict"]["hypothesis"] == "danger"
    assert (found["today"]["advice"], found["today"]["ways_round"]) == ("do_not", [])


@pytest.mark.first_quick(2)
@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_the_page_says_next_why_and_no_steps_before_their_cautions(run, diagnosis, path, rules):
    """What is in force comes before everything, what belongs to the step before its steps."""
    ended = run("diagnose", path, "--no-questions", "--full")
    assert ended.status == 0
    flat = " ".join(ended.out.split())
    found = diagnosis(path)
    assert "Next: " in flat
    assert ("Why now: " in flat) != ("STOP NOW: " in flat)
    assert "Today: " in flat
    steps = found["next"]["steps"]
    first = flat.index(f" 1. {' '.join(steps[0].split()[:3])}") if steps else len(flat)
    for caution in found["cautions"]:
        title = rules.cautions[caution["id"]].name
        head = f"{'STOP NOW' if caution['stop_now'] else 'Caution'}: {title}"
        of_the_step = caution["id"] in found["next"]["cautions"]
        assert flat.index(head) < (first if of_the_step else flat.index("Next: "))


def test_what_marks_a_specimen_is_not_printed_as_the_remedy_of_one_that_is_irreplaceable(
    run, rules, tmp_path
):
    text = "complaint: images_charge\n{}journal:\n  - {{finding: top_to_stub, answer: open}}\n"
    said = {}
    for name, head in (("kept", "specimen: irreplaceable\n"), ("plain", "")):
        (tmp_path / f"{name}.yaml").write_text(text.format(head))
        ended = run("diagnose", tmp_path / f"{name}.yaml", "--no-questions", "--full")
        said[name] = " ".join(ended.out.split())
    marking = [a.say for a in rules.actions.values() if a.specimen != "safe"]
    assert any(f": {say}" in said["plain"] for say in marking)
    assert not any(f": {say}" in said["kept"] for say in marking)


@pytest.mark.parametrize("option", ["--report", "--service-sheet", "--forms"])
def test_a_page_is_written_where_it_was_asked_for(run, tmp_path, option):
    pytest.importorskip("troubleshoot.show.html.pages")
    target = tmp_path / "page.html"
    ended = run("diagnose", "flakes_on_the_lower_seal", "--no-questions", option, target)
    assert ended.status == 0, ended.err
    text = target.read_text(encoding="utf-8")
    assert text.lstrip().lower().startswith("<!doctype html>")
    assert [p.name for p in tmp_path.iterdir() if p.suffix == ".html"] == ["page.html"]


def test_no_page_replaces_the_case_that_it_is_made_of_and_no_two_share_a_file(run, tmp_path):
    case = tmp_path / "case.yaml"
    case.write_text("complaint: no_strike\n")
    ended = run("diagnose", case, "--no-questions", "--report", case)
    assert (ended.status, "was read just now" in ended.err) == (2, True)
    pages = tmp_path / "page.html"
    ended = run("diagnose", case, "--no-questions", "--report", pages, "--markdown", pages)
    assert (ended.status, "give each its own" in ended.err) == (2, True)
    assert (case.read_text(), pages.exists()) == ("complaint: no_strike\n", False)


def test_a_page_is_written_though_the_pipe_is_shut(program, tmp_path):
    done = subprocess.run(
        f"{sys.executable} -m troubleshoot diagnose chip_in_the_glass --report r.html | true",
        shell=True, capture_output=True, text=True, timeout=30, cwd=tmp_path, check=False,
    )  # fmt: skip
    assert (tmp_path / "r.html").read_text().startswith("<!doctype html>")
    assert "Traceback" not in done.stderr


def test_json_stays_alone_on_its_stream_when_a_page_is_written_too(run, tmp_path):
    ended = run("diagnose", "chip_in_the_glass", "--json", "--report", tmp_path / "r.html")
    assert ended.status == 0
    json.loads(ended.out)
    assert "r.html" in ended.err


def test_both_answers_of_an_operator_who_wavers_are_told(run, tmp_path):
    demo = next(path for path in demo_files() if path.stem == "flakes_on_the_lower_seal")
    machine = f"machine: {demo.parent}/machine_sieve_room.yaml"
    text = demo.read_text().replace("machine: machine_sieve_room.yaml", machine)
    told = "answer: straight\n"
    assert told in text
    assert machine in text
    path = tmp_path / "wavers.yaml"
    path.write_text(text.replace(told, "answer: [straight, bends_over]\n"))
    ended = run("diagnose", path, "--json", "--anywhere")
    assert ended.status == 0, ended.err
    (row,) = (r for r in json.loads(ended.out)["evidence"] if r["finding"] == "rise_shape")
    assert row["answers"] == ["straight", "bends_over"]


def test_own_rules_on_top(run, tmp_path):
    (tmp_path / "mine.yaml").write_text(
        "cautions:\n  glass_under_vacuum:\n    source: ours\n    name: Glass\n"
        "    hazard: It breaks.\n    precaution: Our own words about glass.\n"
    )
    ended = run("diagnose", "flakes_on_the_lower_seal", "--json", "--rules", tmp_path)
    assert ended.status == 0
    assert "cautions.glass_under_vacuum" in ended.err
    assert "Our own words about glass." in [c["text"] for c in json.loads(ended.out)["cautions"]]


def test_another_machine_by_file_and_by_name(run):
    folder = demo_files()[0].parent
    other = folder / "machine_harbour_lab.yaml"
    by_file = run("diagnose", "flakes_on_the_lower_seal", "--json", "--machine", other)
    assert run("machine", "read", other).status == 0
    by_name = run(
        "diagnose", "flakes_on_the_lower_seal", "--json", "--machine", "the harbour coater"
    )
    assert by_file.status == by_name.status == 0
    assert by_file.out == by_name.out
    assert by_file.out != run("diagnose", "flakes_on_the_lower_seal", "--json").out


@pytest.mark.slow
def test_demos_lists_every_demo_and_writes_its_report(run, program, tmp_path):
    """The same byte by byte in another process, whose sets are in another order."""
    folder = tmp_path / "new" / "reports"
    ended = run("demos", "--reports", folder)
    assert (ended.status, ended.err) == (0, "")
    assert all(path.stem in ended.out for path in DEMOS)
    assert {p.stem for p in folder.glob("*.html")} == {"index", *(path.stem for path in DEMOS)}
    listed = (folder / "index.html").read_text()
    assert all(f'href="{path.stem}.html"' in listed for path in DEMOS)
    again = tmp_path / "again"
    assert program("demos", "--reports", again, env={"PYTHONHASHSEED": "7"}).status == 0
    first = {p.name: p.read_bytes() for p in folder.iterdir()}
    assert {p.name: p.read_bytes() for p in again.iterdir()} == first


def test_markdown_is_written_and_all_of_a_report_only_with_a_report(run, tmp_path):
    target = tmp_path / "case.md"
    ended = run("diagnose", "chip_in_the_glass", "--no-questions", "--markdown", target)
    assert ended.status == 0, ended.err
    assert target.read_text().startswith("# Working pressure not reached\n")
    ended = run("diagnose", "chip_in_the_glass", "--no-questions", "--print-all")
    assert (ended.status, ended.out) == (2, "")
    assert "add --report FILE" in ended.err


def test_a_report_opens_its_case_again(run, tmp_path):
    report = tmp_path / "Report.HTML"
    assert run("diagnose", "chip_in_the_glass", "--no-questions", "--report", report).status == 0
    first = run("diagnose", "chip_in_the_glass", "--json").out
    assert run("diagnose", report, "--json").out == first
    report.write_text(report.read_text()[:-80])
    ended = run("diagnose", report, "--json")
    assert (ended.status, ended.out) == (2, "")
    assert len(ended.err.splitlines()) == 1
    assert "cut off" in ended.err


SAID = "base 3e-1 mbar, glow pink, smell of burning, zorgle the frumps"


def test_a_line_is_only_printed_without_questions(run):
    said = run("diagnose", "--no-questions", "--say", SAID)
    assert said.out.index("STOP NOW: Smell of burning") < said.out.index("Trouble: ")
    assert "Base pressure, loaded: 3e-1 mbar" in said.out
    assert said.out.index("Not understood:") < said.out.index("  zorgle the frumps")
    assert "Nothing is recorded." in said.out
    assert "No case" in run("cases", "list").out


def test_a_line_as_one_object(run):
    found = json.loads(run("diagnose", "--json", "--say", SAID).out)
    assert "pressure_not_reached" in found["complaints"]
    assert {"finding", "sign"} <= {one["kind"] for one in found["understood"]}
    assert found["not_understood"] == ["zorgle the frumps"]


def test_a_line_begins_a_new_case(run):
    for other in (["--resume"], ["cases_demo/full_stage_on_a_monday.yaml"]):
        said = run("diagnose", "--say", SAID, *other)
        assert said.status == 2
        assert "--say begins a new case" in said.err
