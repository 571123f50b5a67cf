"""What the pages say, that they ask nothing of the network, and that no text can break out."""

import base64
import hashlib
import re
from functools import cache, partial
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest

from troubleshoot.advice import instruction, phrases, today, why
from troubleshoot.advice import page as pages_of_cases
from troubleshoot.advice import step as steps
from troubleshoot.advice import verdict as verdicts
from troubleshoot.advice.page import leading, page_of
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.coater.fields import FIELDS, NUMBERS
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.knowledge import drawings
from troubleshoot.knowledge.load import load
from troubleshoot.readings import quantity
from troubleshoot.show.files import to_file
from troubleshoot.show.html import content, front, paper, svg, words
from troubleshoot.show.html import pages as html

MADE = "2026-03-02 17:40"
HEADINGS = [
    "What it looks like",
    "Do this next",
    "Can I still coat today?",
    "How it is proved",
    "Step by step",
    "More",
    "Why this now, and what each outcome would mean",
    "The causes, and how likely",
    "What was seen, and what it says",
    "What was told beforehand",
    "What was done",
    "If it is that: what puts it right",
    "What was not looked at",
    "Rules that spoke",
    "Words explained",
    "The coater",
    "Where this comes from",
]
VOID = {"meta", "link", "img", "br", "hr", "input", "source", "base"}
INLINE = {"strong", "small", "bdi", "span"}
RULES = load()


class Page(HTMLParser):
    """A page as a browser would see it: tags with attributes, headings, text."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.source = text
        self.tags, self.headings, self.text, self.open = [], [], "", []
        self.feed(text)
        self.close()
        assert self.open == [], "every element is closed"
        self.text = " ".join(self.text.split())

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in INLINE:
            self.text += " "
        if tag not in VOID:
            self.open.append(tag)
        if tag in ("h1", "h2", "h3"):
            self.headings.append([tag, ""])

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if {"style", "script"} & set(self.open):
            return
        if "nav" not in self.open:
            self.text += data
        if self.open and self.open[-1] in ("h1", "h2", "h3"):
            self.headings[-1][1] += data

    def titles(self, tag):
        return [" ".join(text.split()) for kind, text in self.headings if kind == tag]

    def between(self, first, second):
        """The text from one heading to the next."""
        return self.text.split(first, 1)[1].split(second, 1)[0]


def journal_of(*entries):
    journal = ()
    for minute, (kind, data) in enumerate(entries):
        journal = append(journal, f"2026-03-02T09:{minute:02d}:00", kind, RULES, **data)
    return journal


def told(finding, answer, **more):
    return "finding", {"finding": finding, "answer": answer, **more}


def read(finding, quantity):
    return "finding", {"finding": finding, "quantity": quantity}


COATER = machine_from(
    {
        "name": "Coater by the window",
        "gauge_unit": "mbar",
        "isolation_valve": "yes",
        "gauge_side": "chamber",
        "spare_gauge": "no",
        "usual_base": "0.06 mbar",
        "usual_current": "9 mA",
    },
    "profile",
)
SLOW = journal_of(
    ("opened", {"rules": RULES.hash, "machine": COATER.hash, "name": "Copepods, Monday"}),
    ("complaint", {"complaint": "pressure_not_reached", "words": "it sticks at 0.4"}),
    ("since", {"text": "this morning"}),
    read("base_loaded", "0.45 mbar"),
    read("base_empty", "0.44 mbar"),
    told("seal_look", "dust_or_flakes", sure="fairly"),
    told("hiss", "unknown"),
    ("cannot", {"action": "rate_of_rise", "why": "the valve is stiff"}),
    ("action", {"action": "wipe_and_reseat_seals", "complaint_now": "better", "value": "0.2 mbar"}),
    read("base_empty", "0.2 mbar"),
    ("note", {"text": "spare seal in drawer 3"}),
)


@cache
def bench_of(machine_hash):
    return Bench(RULES, {m.hash: m for m in (COATER, Machine())}[machine_hash])


def page(journal, machine=COATER, what=html.render):
    bench = bench_of(machine.hash)
    case = bench.assess(journal)
    shown = page_of(case, journal)
    if what is html.forms:
        return case, Page(html.forms(shown))
    return case, Page(what(shown, made_at=MADE))


@cache
def fresh(complaint):
    """The report of a case of which only the complaint is known."""
    return page(journal_of(("complaint", {"complaint": complaint})))


@pytest.fixture(scope="module")
def slow():
    return page(SLOW)


@cache
def every_page():
    closed = journal_of(
        ("complaint", {"complaint": "slow_pump_down"}),
        told("vent_knob", "not_closed"),
        ("action", {"action": "close_vent", "complaint_now": "cured"}),
        (
            "closed",
            {"outcome": "cured", "cause": "vent_not_closed", "proved_by": "timed_pump_down"},
        ),
    )
    healthy = journal_of(
        ("complaint", {"complaint": "slow_pump_down"}),
        read("pump_down_time", "5 min"),
        read("base_loaded", "0.05 mbar"),
        told("curve_shape", "usual"),
    )
    danger = journal_of(
        ("complaint", {"complaint": "no_strike"}),
        ("sign", {"sign": "tingle_or_shock", "present": True}),
    )
    fresh = [journal_of(("complaint", {"complaint": c})) for c in RULES.complaints]
    cases = [(j, COATER) for j in ((), SLOW, closed, healthy, danger, *fresh)]
    kinds = (html.render, html.service_sheet, html.forms)
    return [page(j, m, what)[1] for j, m in (*cases, (SLOW, Machine())) for what in kinds]


# --- one self-contained file -------------------------------------------------------------------


@pytest.mark.slow
def test_pages_ask_nothing_of_the_network_and_run_nothing():
    for seen in every_page():
        for tag, attributes in seen.tags:
            if tag == "script":  # data, which no browser runs
                assert attributes == {"type": "application/json", "id": "case"}
        assert not {"link", "iframe", "object", "embed", "form", "base"} & {
            tag for tag, _ in seen.tags
        }
        for tag, attributes in seen.tags:
            if tag == "img":
                assert attributes.pop("src").startswith(
                    ("data:image/svg+xml;base64,", "data:image/png;base64,")
                )
            if tag == "a":  # within the page only
                assert attributes.pop("href").startswith("#")
            assert not {"src", "href", "srcset", "xlink:href", "style", "action"} & set(attributes)
            assert not any(name.startswith("on") for name in attributes)
        style = re.search(r"<style>(.*?)</style>", seen.source, re.S)[1]
        assert "url(" not in style
        assert "@import" not in style
        assert "expression" not in style


@pytest.mark.slow
def test_policy_comes_first_and_allows_the_one_style_sheet():
    for seen in every_page():
        metas = [a for t, a in seen.tags if t == "meta" and "http-equiv" in a]
        assert [m["http-equiv"] for m in metas] == ["Content-Security-Policy"]
        rules = dict(r.strip().split(" ", 1) for r in metas[0]["content"].split(";"))
        assert rules["default-src"] == "'none'"
        assert rules["img-src"] == "data:"
        assert "script-src" not in rules
        style = re.search(r"<style>(.*?)</style>", seen.source, re.S)[1]
        digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
        assert rules["style-src"] == f"'sha256-{digest}'"
        assert seen.source.index("Content-Security-Policy") < seen.source.index("<style>")


@pytest.mark.slow
def test_pages_are_made_for_everyone():
    for seen in every_page():
        tags = dict(reversed(seen.tags))
        assert tags["html"]["lang"] == "en"
        assert "viewport" in [a.get("name") for t, a in seen.tags if t == "meta"]
        assert seen.titles("h1")
        assert all(a.get("aria-label") for t, a in seen.tags if t == "svg")
        targets = [a["aria-labelledby"] for _, a in seen.tags if "aria-labelledby" in a]
        ids = [a["id"] for _, a in seen.tags if "id" in a]
        assert len(ids) == len(set(ids))
        assert set(targets) <= set(ids)
        assert re.search(r"<title>[^<]+</title>", seen.source)


def test_pages_are_pure():
    bench = Bench(RULES, COATER)
    first = html.render(page_of(bench.assess(SLOW), SLOW), made_at=MADE)
    again = Bench(RULES, COATER)
    assert html.render(page_of(again.assess(SLOW), SLOW), made_at=MADE) == first
    assert MADE in first


HOSTILE = "<script>alert(1)</script>\"'><b onload=x>&amp;{{ 7*7 }}]]>"


def test_nobody_can_write_into_the_page():
    machine = machine_from({"name": f"machine {HOSTILE}"}, "profile")
    journal = journal_of(
        ("opened", {"rules": f"rules {HOSTILE}", "machine": "m", "name": f"name {HOSTILE}",
                    "engine": f"engine {HOSTILE}"}),
        ("complaint", {"complaint": "slow_pump_down", "words": f"words {HOSTILE}"}),
        ("since", {"text": f"since {HOSTILE}"}),
        ("cannot", {"action": "timed_pump_down", "why": f"why {HOSTILE}"}),
        ("epoch", {"why": f"epoch {HOSTILE}"}),
        told("curve_shape", "bursts"),
        ("action", {"action": "close_vent", "complaint_now": "better",
                    "value": f"value {HOSTILE}"}),
        ("note", {"text": f"note {HOSTILE}"}),
        ("parked", {"action": "long_pump", "until": f"until {HOSTILE}",
                    "note": f"parked {HOSTILE}"}),
    )  # fmt: skip
    closing = (
        "closed",
        {"outcome": "unsolved", "proved_by": f"proof {HOSTILE}", "by": f"by {HOSTILE}",
         "note": f"end {HOSTILE}"},
    )  # fmt: skip
    bench = Bench(RULES, machine)
    shown = ""
    ended = append(journal, "2026-03-02T10:00:00", closing[0], RULES, **closing[1])
    for entries in (journal, ended):
        case = bench.assess(entries)
        for text in (
            html.render(page_of(case, entries), made_at=f"made {HOSTILE}"),
            html.service_sheet(page_of(case, entries), made_at=f"made {HOSTILE}"),
            html.forms(page_of(case, entries)),
        ):
            assert text.lower().count("<script") == text.count('<script type="application/json"')
            assert "<b " not in text
            shown += Page(text).text
    places = [
        "machine", "rules", "name", "engine", "words", "since", "why", "epoch", "value", "note",
        "until", "parked", "proof", "by", "end", "made",
    ]  # fmt: skip
    for place in places:
        assert f"{place} {HOSTILE}" in shown, place


# --- the report --------------------------------------------------------------------------------


def test_order_of_the_headings(slow):
    """The first page, then what is folded behind it; what has nothing to say is left out."""
    _, seen = slow
    assert seen.titles("h1") == [RULES.complaints["pressure_not_reached"].name]
    assert [t for t in seen.titles("h2") if not t.startswith("Ways round")] == HEADINGS
    folded = [a["id"] for tag, a in seen.tags if tag == "details"]
    linked = [a["href"] for tag, a in seen.tags if tag == "a"]
    assert set(linked) == {f"#{name}" for name in folded}
    assert not any("open" in a for tag, a in seen.tags if tag == "details")


def test_all_of_it_is_unfolded_where_all_is_to_be_printed():
    _, seen = page(SLOW, what=partial(html.render, print_all=True))
    assert all("open" in a for tag, a in seen.tags if tag == "details")


def test_the_first_page_has_no_insider_words(slow):
    for _, seen in (
        slow,
        *(page(journal_of(("complaint", {"complaint": c}))) for c in RULES.complaints),
    ):
        first = seen.text.split("Step by step")[0]
        for word in ("deciban", "rule base", "hash", "shaken", "posterior", "%"):
            assert word not in first
        assert "Coater" in first
        for label in ("Date", "Role", "Name"):
            assert f" {label} " in first


def test_no_sentence_stands_twice_in_a_report(slow):
    """A caution that a folded way round needs too is named again, not told again."""
    for _, seen in (slow, *map(fresh, list(RULES.complaints)[::6])):
        text = seen.text.split("Rules that spoke")[0]
        found = [t for t in re.split(r"(?<=[.!?]) ", text) if len(t) > 45]
        assert sorted(found) == sorted(set(found))


def test_next_step_comes_with_minutes_steps_and_reason(slow):
    case, seen = slow
    step = steps.next_step(case)
    first = seen.between("Do this next", "Can I still coat today?")
    assert step.say in first
    for box in step.do.cautions:
        assert f"{box.name}. {box.first}" in first
    assert f"{words.minutes(step.hands)} hands-on" in first
    how = seen.between("Step by step", "Why this now")
    for box in step.do.cautions:
        assert box.more in how
    for text in step.do.steps:
        assert " ".join(text.split()) in how
    for name in step.findings:
        assert RULES.findings[name].ask in how
    assert step.why in seen.between("Why this now", "The causes, and how likely")


def test_verdict_and_today(slow):
    case, seen = slow
    said = verdicts.verdict(case)
    part = seen.between("What it looks like", "Do this next")
    assert said.sentence in part
    assert why.how_firm(case, said).sentence in part
    coat = today.today_of(case)
    assert f"Can I still coat today? {coat.head}. {coat.note}" in seen.text
    assert why.would_change(case) in seen.between("The causes, and how likely", "What was seen")


def test_a_way_round_stands_with_its_cautions_before_its_steps():
    journal = journal_of(
        ("complaint", {"complaint": "pressure_not_reached"}), told("seal_look", "dust_or_flakes")
    )
    case, seen = page(journal)
    ways = [RULES.workarounds[name] for name in today.today_of(case).ways]
    assert ways
    part = seen.between("Ways round, for a picture today They", "What was not looked at")
    assert all(way.name in part for way in ways)
    for way in ways[:2]:
        start = part.index(f"{way.name} (")
        steps = part.index(way.steps[0], start)
        assert way.expect in part[start:steps]
        assert all(RULES.cautions[name].name in part[start:steps] for name in way.hazards)
    assert any(way.hazards for way in ways[:2])


def test_remedy_says_who_parts_and_proof():
    journal = journal_of(
        ("complaint", {"complaint": "slow_pump_down"}),
        told("drying", "not_through"),
        told("load_contrast", "usual_empty"),
        told("bubbles_in_vacuum", "yes"),
    )
    case, seen = page(journal)
    said = verdicts.verdict(case)
    remedies = [RULES.actions[a] for a in RULES.causes[said.hypothesis].remedies]
    part = seen.text.split("hat puts it right", 1)[1].split("What was not looked at", 1)[0]
    shown = next(a for a in remedies if a.say in seen.text)
    assert f"Who may do it {instruction.ROLE_NAMES[shown.role]}" in " ".join(part.split())
    proof = RULES.actions[shown.proof].say.rstrip(".")
    assert proof in seen.between("How it is proved", "Step by step")
    assert shown.if_partly in part
    assert shown.if_not in part
    assert shown.tell_owner
    assert f"“{shown.tell_owner}”" in part


def test_the_words_that_a_report_uses_are_explained(slow):
    case, seen = slow
    terms = front.explained(page_of(case, SLOW))
    part = seen.between("Words explained", "The coater A dashed")
    assert "Base pressure" in {term.name for term in terms}
    assert len(terms) < len(RULES.words), "only those that it uses"
    for term in terms:
        assert f"{term.name} {term.means}" in part
    before = seen.text.split("Words explained")[0].lower()
    for term in terms:
        assert any(word.lower() in before for word in (term.name, *term.also)), term.name


def test_a_failed_remedy_is_not_offered_again(slow):
    case, _ = slow
    cured = page_of(case, ()).found.remedy
    assert cured is None or cured.do.id != "wipe_and_reseat_seals"


def test_chart_is_of_causes_that_can_raise_the_complaint_and_adds_up(slow):
    case, seen = slow
    view = why.view(case)
    bars = leading(case, view)
    assert [b.named for b in bars] == [True, True, True, False, False, False]
    assert [b.part for b in bars[:3]] == sorted((b.part for b in bars[:3]), reverse=True)
    named = {b.name for b in bars[:3]}
    of_them = [c for c in RULES.causes.values() if c.name in named]
    assert all("pressure_not_reached" in c.complaints for c in of_them)
    ids = {c.id for c in of_them}
    with_one = sum(p for members, p in case.belief.sets if ids & set(members))
    assert with_one + sum(b.part for b in bars[3:]) == pytest.approx(1.0)
    part = seen.between("The causes, and how likely", "What was seen, and what it says")
    for bar in bars:
        assert bar.name in part
        assert phrases.chance(bar.part) in part
    assert "judgement" in part
    assert "%" not in part


def test_what_cannot_raise_the_complaint_is_kept_apart():
    journal = journal_of(
        ("complaint", {"complaint": "slow_pump_down"}),
        told("cylinder_valve", "shut"),
        told("cylinder_contents", "low_or_zero"),
    )
    case, seen = page(journal)
    assert "slow_pump_down" not in RULES.causes["argon_supply_off"].complaints
    assert case.belief.present["argon_supply_off"] > verdicts.MATTERS
    name = RULES.causes["argon_supply_off"].name
    assert name not in {bar.name for bar in leading(case, why.view(case))}
    part = seen.between("The causes, and how likely", "What was seen, and what it says")
    assert name in part.split("it does not explain this complaint:")[1]


def test_evidence_in_order_with_its_words(slow):
    case, seen = slow
    part = seen.between("What was seen, and what it says", "What was told beforehand")
    grounds = why.grounds(case, SLOW, why.view(case))
    assert len(grounds.rows) == len(case.seen)
    telling = [r for r in grounds.rows if abs(r.decibans) >= 1]
    assert [r.seen for r in grounds.telling] == [r.seen for r in telling]
    places = [part.index(f"{r.name}: {r.quantity or r.answer}") for r in telling]
    assert places == sorted(places)
    assert len(places) > 2
    assert "After: Wipe" in part
    assert "told, fairly sure, 2026-03-02 09:05" in part
    assert "measured, 2026-03-02 09:03" in part
    assert "worked out by a rule" in part
    quiet = len(grounds.rows) - len(telling)
    assert f"{'One' if quiet == 1 else quiet} more observation" in part


def test_what_speaks_for_points_right_and_against_left():
    journal = journal_of(
        ("complaint", {"complaint": "slow_pump_down"}),
        told("vent_knob", "not_closed"),
        told("curve_shape", "usual"),
    )
    bench = bench_of(COATER.hash)
    case = bench.assess(journal)
    rows = why.grounds(case, journal, why.view(case)).rows
    assert RULES.causes["vent_not_closed"].name == leading(case, why.view(case))[0].name
    weights = {row.name: row for row in rows}
    knob = weights[RULES.findings["vent_knob"].name]
    shape = weights[RULES.findings["curve_shape"].name]
    assert knob.decibans > 7
    assert knob.words == "speaks strongly for"
    assert shape.decibans < -1
    assert "against" in shape.words


def test_what_was_done_notes_and_rules(slow):
    case, seen = slow
    done = seen.between("The complaint afterwards", "what puts it right")
    assert f"{RULES.actions['wipe_and_reseat_seals'].name} better, but not right (0.2 mbar)" in done
    assert "spare seal in drawer 3" in done
    fired = seen.between("Rules that spoke", "Words explained")
    for firing in case.firings:
        assert RULES.derivations[firing.rule].because in fired


def test_observations_that_clash_are_pointed_out(monkeypatch):
    _, seen = page(SLOW)
    sentence = "These two do not fit together."
    assert sentence not in seen.text
    monkeypatch.setattr(pages_of_cases, "clash", lambda case: sentence)
    _, seen = page(SLOW)
    assert sentence in seen.between("What was seen, and what it says", "What was told beforehand")


def test_what_was_not_looked_at(slow):
    case, seen = slow
    part = seen.between("What was not looked at", "Rules that spoke")
    assert "the valve is stiff" in part
    assert f"Answered “don’t know”: {RULES.findings['hiss'].name}." in part
    unseen = content.unseen(page_of(case, SLOW))
    assert unseen.open
    answered = {RULES.findings[s.finding].name for s in case.seen}
    assert not answered & {name for name, _ in unseen.open}


def test_before_a_complaint_there_is_no_verdict():
    case, seen = page(())
    step = steps.next_step(case)
    assert step.say in seen.text.split("Do this next")[1]
    assert "The causes, and how likely" not in seen.titles("h2")


def test_defaults_are_called_so():
    own = {line.label: line for line in content.coater(bench_of(COATER.hash).assess(()))}
    wide = {line.label: line for line in content.coater(bench_of(Machine().hash).assess(()))}
    label = FIELDS["usual_base"].label
    assert (own[label].value, own[label].default) == ("0.06 mbar", False)
    assert wide[label].default
    assert wide[label].value.endswith("assumed")
    assert wide[FIELDS["trap"].label].value == "not known"
    asked = {row.label for row in FIELDS.values() if row.part != "untold"}
    assert set(own) == asked


def test_rule_base_engine_and_logbook(slow):
    case, seen = slow
    assert RULES.hash in seen.text.split("Where this comes from")[1]
    done = seen.between("What was done", "what puts it right")
    assert "before: 0.45 mbar loaded, 0.44 mbar empty; after: 0.2 mbar empty" in done
    labels = [label for label, _ in front.sign_off(case)]
    assert labels == ["Coater", "Date", "Role", "Name"]
    assert f"Coater {COATER.name} Date Role Name" in seen.text


def test_another_rule_base_is_mentioned():
    journal = journal_of(("opened", {"rules": "0123456789ab", "machine": "m"}))
    _, seen = page(journal)
    assert "Opened under another rule base 0123456789ab" in seen.text


@pytest.mark.first_quick(2)
@pytest.mark.parametrize("sign", sorted(RULES.signs))
def test_danger_comes_first_and_stops_the_rest(sign):
    journal = journal_of(
        ("complaint", {"complaint": "no_strike"}), ("sign", {"sign": sign, "present": True})
    )
    case, seen = page(journal)
    caution = RULES.cautions[RULES.signs[sign].caution]
    first = seen.text.split("What it looks like")[0]
    assert first.index("Stop now") < first.index(caution.name)
    do_next = seen.between("Do this next", "Can I still coat today?")
    assert "Make it safe" in do_next
    for step in caution.make_safe:
        assert step in do_next
    _, sheet = page(journal, what=html.forms)
    assert sheet.titles("h1") == ["No check before this is settled"]
    assert all(step in sheet.text for step in caution.make_safe)

    settled = append(journal, MADE, "made_safe", RULES, caution=caution.id)
    case, seen = page(settled)
    assert case.stop is None
    assert "Stop now" not in seen.text
    assert case.dangers == (caution.id,)
    assert f"Out of use {caution.name}." in seen.text.split("What it looks like")[0]
    assert f"{caution.name}: repaired and proved." not in seen.text
    assert seen.text.split("What it looks like ")[1].startswith(verdicts.verdict(case).sentence)
    part = seen.text
    assert f"Can I still coat today? Do not coat now. {today.today_of(case).note}" in part
    assert "Ways round, for a picture today" not in seen.titles("h2")
    assert "The causes, and how likely" not in seen.titles("h2")
    assert "Apart from the danger: the causes" in seen.titles("h2")
    _, sheet = page(settled, what=html.service_sheet)
    assert f"{caution.name}." in sheet.text.split("Complaint", 1)[0]

    proved = append(settled, MADE, "repaired", RULES, caution=caution.id, role="in_charge")
    case, seen = page(proved)
    assert case.dangers == ()
    assert f"{caution.name}: repaired and proved." in seen.text
    assert f"Repaired and proved: {caution.name}" in seen.text
    assert "The causes, and how likely" in seen.titles("h2")
    _, sheet = page(proved, what=html.service_sheet)
    assert caution.name not in sheet.text.split("Complaint", 1)[0]


@pytest.mark.first_quick(2)
@pytest.mark.parametrize("sign", sorted(RULES.signs))
def test_no_form_and_no_steps_for_what_a_danger_bans(sign):
    caution = RULES.cautions[RULES.signs[sign].caution]
    journal = journal_of(
        ("complaint", {"complaint": "pressure_not_reached"}),
        ("sign", {"sign": sign, "present": True}),
        ("made_safe", {"caution": caution.id}),
        told("seal_look", "dust_or_flakes"),
    )
    case, seen = page(journal)
    _, sheet = page(journal, what=html.forms)
    assert not case.refused.keys() & {f.do.id for f in paper.forms(page_of(case, ()))}
    barred = [RULES.actions[name] for name in case.refused if name in RULES.actions]
    assert barred
    assert not {a.name for a in barred} & set(sheet.titles("h1"))
    do_next = seen.text.split("Do this next")[1]
    assert not [a.id for a in barred if all(step in do_next for step in a.steps)]
    if caution.bans == ["anything"]:
        assert sheet.titles("h1") == ["No form to fill in"]


def test_nothing_wrong_is_a_verdict_of_its_own():
    journal = journal_of(
        ("complaint", {"complaint": "slow_pump_down"}),
        read("pump_down_time", "4 min"),
        read("base_loaded", "0.05 mbar"),
        told("curve_shape", "usual"),
    )
    case, seen = page(journal)
    assert verdicts.verdict(case).hypothesis == verdicts.NOTHING_WRONG
    assert not any("puts it right" in title for title in seen.titles("h2"))
    assert seen.text.count(RULES.complaints["slow_pump_down"].normal) == 1


def test_a_cured_case_tells_what_cured_it():
    journal = journal_of(
        ("complaint", {"complaint": "slow_pump_down"}),
        told("vent_knob", "not_closed"),
        ("action", {"action": "close_vent", "complaint_now": "cured"}),
    )
    case, seen = page(journal)
    assert "What put it right" in seen.titles("h2")
    view = why.view(case)
    assert view.before
    assert leading(case, view)[0].name == RULES.causes["vent_not_closed"].name
    assert case.belief.present["vent_not_closed"] < view.belief.present["vent_not_closed"]
    closed = append(
        journal, MADE, "closed", RULES,
        outcome="cured", cause="vent_not_closed", proved_by="timed_pump_down", by="in_charge",
    )  # fmt: skip
    _, seen = page(closed)
    name = RULES.causes["vent_not_closed"].name
    assert f"How it ended It was: {phrases.lower_first(name)}." in seen.text
    first = seen.between("What was found, done and proved", "The causes, and how likely")
    knob = RULES.findings["vent_knob"]
    assert f"{knob.name}: {phrases.lower_first(knob.answers['not_closed'])}" in first
    proof = RULES.actions["timed_pump_down"].name
    for text in (RULES.actions["close_vent"].name, proof, "put right", "the person in charge"):
        assert text in first
    for text in ("Do this next", "Can I still coat", "is, in round numbers", "Why this now"):
        assert text not in seen.text


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"outcome": "cured", "cause": "seal_dirty", "proved_by": "not proved"},
         "It was: dirty seal. This was not proved."),
        ({"outcome": "cured", "cause": ["seal_dirty", "unlisted"], "proved_by": "fault seen"},
         "It was: dirty seal and something not in this rule base."),
        ({"outcome": "cured"}, "It was put right."),
        ({"outcome": "workaround"}, "It was got round; the cause was still there."),
        ({"outcome": "service", "cause": "seal_dirty"},
         "It was handed to service. It was: dirty seal."),
        ({"outcome": "unsolved"}, "It was closed without an answer."),
    ],
)  # fmt: skip
def test_a_closed_case_speaks_in_the_past(more, sentence):
    journal = journal_of(("complaint", {"complaint": "slow_pump_down"}), ("closed", more))
    _, seen = page(journal)
    assert f"How it ended {sentence}" in seen.text


# --- bars --------------------------------------------------------------------------------------


def shapes(markup):
    root = ElementTree.fromstring(str(markup))
    return root, [r.attrib for r in root.iter("rect") if r.get("class") != "track"]


@pytest.mark.parametrize(("part", "width"), [(0, 0), (0.25, 25), (1, 100), (1.2, 100)])
def test_share_bar_is_as_long_as_the_share(part, width):
    root, (bar,) = shapes(svg.share(part, "about"))
    assert root.get("viewBox") == "0 0 100 10"
    assert float(bar["x"]) == 0
    assert float(bar["width"]) == pytest.approx(width)


@pytest.mark.parametrize(
    ("decibans", "x", "width", "kind"),
    [(10, 0, 25, "solid"), (-10, -25, 25, "hollow"), (40, 0, 50, "solid"), (0, 0, 0, "hollow")],
)
def test_balance_bar_points_the_right_way(decibans, x, width, kind):
    _, (bar,) = shapes(svg.balance(decibans, 20, "says"))
    assert float(bar["x"]) == pytest.approx(x)
    assert float(bar["width"]) == pytest.approx(width)
    assert bar["class"] == kind


def test_labels_of_bars_are_escaped():
    root, _ = shapes(svg.share(0.5, '"/><script>'))
    assert root.get("aria-label") == '"/><script>'


def test_every_svg_of_a_report_is_well_formed(slow):
    _, seen = slow
    found = re.findall(r"<svg.*?</svg>", seen.source, re.S)
    assert len(found) == 6 + len(why.grounds(slow[0], SLOW, why.view(slow[0])).telling)
    for one in found:
        ElementTree.fromstring(one)


# --- service sheet and forms -------------------------------------------------------------------


def test_service_sheet_answers_what_is_asked_and_leaves_blanks():
    case, seen = page(SLOW, what=html.service_sheet)
    lines = {line.label: line for line in paper.readings(case)}
    assert lines["Base pressure, empty"].now == "0.44 mbar, then 0.2 mbar"
    assert lines["Base pressure, empty"].usual == "0.06 mbar"
    assert lines["Pump alone, blanked off"].why == "Not possible here (spare gauge: no)"
    assert lines["Rate of rise, pump shut off"].why == "Could not be read (below)"
    assert "Not possible here (spare gauge: no): pump alone, blanked off." in seen.text
    assert lines["Glow"].now is None
    assert lines["Current at the usual setting"] == paper.SheetLine(
        "Current at the usual setting", None, "9 mA"
    )
    assert f"Could not do: {RULES.actions['rate_of_rise'].name} (the valve is stiff)" in seen.text
    assert "“it sticks at 0.4”" in seen.text.split("Complaint That is")[0]
    for text in ("this morning", "better, but not right (0.2 mbar)"):
        assert text in seen.text
    for title in ("Complaint", "Kind of coater", "What it shows", "What we will not open"):
        assert title in seen.titles("h2")
    assert "How to make it show" in seen.text


def test_what_was_told_beforehand_starts_with_the_danger_signs():
    """What nobody knew stands in one sentence, and service reads the signs on its sheet."""
    sign, known, unknown = "crackle_outside", "new_user", "first_run_today"
    journal = journal_of(
        ("complaint", {"complaint": "slow_pump_down"}),
        ("circumstance", {"circumstance": unknown, "answer": "unknown"}),
        ("circumstance", {"circumstance": known, "answer": "no"}),
        ("sign", {"sign": sign, "present": True}),
    )
    part = page(journal)[1].between("What was told beforehand", "Rules that spoke")
    asked = RULES.circumstances
    assert f"For a student {RULES.signs[sign].ask} yes" in part
    assert f"{asked[known].ask} no" in part
    assert f"Not said or not known: {asked[unknown].name}." in part
    assert asked[unknown].ask not in part
    _, sheet = page(journal, what=html.service_sheet)
    assert f"Danger signs {RULES.signs[sign].name}" in sheet.text


def test_service_sheet_asks_for_findings_that_exist():
    assert {finding for _, finding, _ in paper.ASKED} <= set(RULES.findings)
    assert {usual for _, _, usual in paper.ASKED if usual} <= set(NUMBERS)
    assert "when_it_happens" in RULES.findings


def test_forms_hold_the_next_checks_with_boxes_for_every_answer():
    case, seen = page(SLOW, what=html.forms)
    made = paper.forms(page_of(case, ()))
    assert 1 <= len(made) <= 5
    assert seen.titles("h1") == [form.do.name for form in made]
    step = steps.next_step(case)
    if step.kind == "check":
        assert made[0].do.id == step.id
    boxes = sum(1 for tag, _ in seen.tags if tag == "fieldset")
    assert boxes == sum(len(form.items) for form in made)
    for form in made:
        action = RULES.actions[form.do.id]
        assert action.kind == "check"
        assert action.id != "rate_of_rise"
        own = seen.text.split(f"{len(made)} {form.do.name}", 1)[1]
        for hazard in action.hazards:
            assert own.index(RULES.cautions[hazard].name) < own.index(action.steps[0])
        for step_text in action.steps:
            assert step_text in own


def test_forms_show_the_drawings_beside_their_answers():
    journal = journal_of(("complaint", {"complaint": "images_charge"}))
    case, seen = page(journal, what=html.forms)
    items = [item for form in paper.forms(page_of(case, ())) for item in form.items]
    wanted = [tick.drawing for item in items for tick in item.answers if tick.drawing]
    shown = [attributes for tag, attributes in seen.tags if tag == "img"]
    assert wanted
    assert [image["src"] for image in shown] == wanted
    assert {image["alt"] for image in shown} == {""}, "the answer's own words stand beside it"


@pytest.mark.parametrize("name", [f.id for f in RULES.findings.values() if f.drawings])
def test_every_drawn_answer_is_a_box_with_its_drawing(name):
    finding = RULES.findings[name]
    case = bench_of(COATER.hash).assess(())
    item = paper.item(case, name)
    drawn = {a: t.drawing for a, t in zip(finding.answers, item.answers, strict=True) if t.drawing}
    files = {a: drawings.content(f, RULES.drawings[f]) for a, f in finding.drawings.items()}
    assert {a: base64.b64decode(d.partition(",")[2]) for a, d in drawn.items()} == files
    assert not item.short


def test_bands_on_paper_are_those_of_this_coater():
    # The shipped bands end at 0.05, 0.1 and 0.5 mbar for a usual base of 0.03 mbar.
    finding = RULES.findings["base_loaded"]
    assert finding.quantity.edges == [0.05, 0.1, 0.5]
    assert finding.quantity.usual_value == 0.03
    texts = [quantity.answer_text(finding, a, COATER) for a in finding.answers]
    assert [t[t.rindex("(") :] for t in texts] == [
        "(up to 0.1 mbar)", "(0.1 to 0.2 mbar)", "(0.2 to 1 mbar)", "(above 1 mbar)"
    ]  # fmt: skip
    pascal = machine_from({"gauge_unit": "Pa"}, "profile")
    assert quantity.answer_text(finding, "raised", pascal).endswith("(5 to 10 Pa)")
    assert quantity.unit_of(RULES.findings["rise_rate"], pascal) == "Pa/min"
    assert quantity.unit_of(RULES.findings["pump_down_time"], pascal) == "min"


def test_closed_case_has_no_forms():
    journal = journal_of(
        ("complaint", {"complaint": "no_strike"}), ("closed", {"outcome": "unsolved"})
    )
    _, seen = page(journal, what=html.forms)
    assert seen.titles("h1") == ["No form to fill in"]


def test_a_check_for_somebody_else_says_so():
    journal = journal_of(("complaint", {"complaint": "no_strike"}))
    case, seen = page(journal, what=html.forms)
    made = paper.forms(page_of(case, ()))
    assert made
    for form in made:
        role = RULES.actions[form.do.id].role
        assert (form.do.fetch is None) == (role == "student")
        if form.do.fetch:
            assert instruction.ROLE_NAMES[role] in form.do.fetch
            assert form.do.fetch in seen.text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.5, "0.5 min"),
        (12, "12 min"),
        (90, "1.5 h"),
        (130, "2 h"),
        (1440, "24 h"),
        (2880, "2 days"),
    ],
)
def test_minutes(value, text):
    assert words.minutes(value) == text


# --- files -------------------------------------------------------------------------------------


def test_file_is_replaced_whole(tmp_path):
    target = tmp_path / "report.html"
    target.write_text("old", encoding="utf-8")
    assert to_file(target, "naïve “new”\n") == target
    assert target.read_text(encoding="utf-8") == "naïve “new”\n"
    assert [p.name for p in tmp_path.iterdir()] == ["report.html"]


def test_a_name_in_another_encoding_does_not_cost_the_report(tmp_path):
    to_file(tmp_path / "r.html", "name \udcff end")
    assert (tmp_path / "r.html").read_text(encoding="utf-8") == "name ? end"


def test_a_place_that_cannot_be_written_to_is_said(tmp_path):
    with pytest.raises(UserError, match="choose a folder that exists"):
        to_file(tmp_path / "missing" / "report.html", "text")
    (tmp_path / "folder").mkdir()
    with pytest.raises(UserError, match="cannot be written"):
        to_file(tmp_path / "folder", "text")
    assert [p.name for p in tmp_path.iterdir()] == ["folder"]


TEMPLATES = sorted(Path(html.__file__).parent.glob("templates/*.j2"))


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.stem)
def test_no_name_of_the_code_stands_in_the_words_of_a_page(template):
    """A name such as `page.step` outside the braces is printed as it is."""
    words_only = re.sub(r"\{([{%#]).*?[}%#]\}", " ", template.read_text(), flags=re.DOTALL)
    assert not re.findall(r"\b[a-z_]+\.[a-z_]+\b", words_only)
