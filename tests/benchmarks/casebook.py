"""What a large casebook costs, against the raw query: `python -m tests.benchmarks.casebook`.

Cases are made from the rule base: a complaint, some answers, a remedy, the end. `--postgres URL`
measures on a server too (in a schema of its own, dropped afterwards). Processor time on SQLite,
wall time on a server. "over raw": what the program's call takes more than the same statements
alone, and their ratio: the two by turns, so that what else the machine does meets both, and the
medians of the differences and of the ratios; where there is no such statement the time stands
alone.
"""

import argparse
import datetime
import random
import statistics
import tempfile
import time
import uuid
from collections.abc import Callable
from pathlib import Path

import sqlalchemy as sa

from troubleshoot.case.journal import Entry, Journal
from troubleshoot.casebook.alike import alike
from troubleshoot.casebook.record import listed, remedies
from troubleshoot.casebook.schema import CASES, ENTRIES, REMEDIES
from troubleshoot.casebook.store import Store, row_of_entry
from troubleshoot.casebook.tally import queries, tally
from troubleshoot.casebook.wanted import Wanted
from troubleshoot.casebook.words import words_of
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.model import RuleBase

NOW = "2026-06-01T09:00:00"
COATERS = ("east", "west", "north")
TIMES = 15


def made(rules: RuleBase, number: int, rng: random.Random) -> Journal:
    """A closed case of some complaint, on a day of the last ten years."""
    day = datetime.datetime(2016, 6, 1, 9) + datetime.timedelta(minutes=rng.randrange(5_200_000))
    complaint = rng.choice(list(rules.complaints))
    causes = [c for c in rules.causes.values() if complaint in c.complaints]
    cause = rng.choices(causes, [c.share for c in causes])[0]
    said: list[tuple[str, dict[str, object]]] = [("complaint", {"complaint": complaint})]
    for name in rng.sample(list(rules.findings), 4):
        answer = rng.choice(list(rules.findings[name].answers))
        said.append(("finding", {"finding": name, "answer": answer}))
    if cause.remedies:
        said.append(("action", {"action": cause.remedies[0], "complaint_now": "cured"}))
    said.append(("note", {"text": f"case {number}, bench {rng.randrange(40)}"}))
    said.append(("closed", {"outcome": "cured", "cause": cause.id, "proved_by": "fault seen"}))
    return tuple(
        Entry(
            n, (day + datetime.timedelta(minutes=2 * n)).isoformat(timespec="seconds"), kind, data
        )
        for n, (kind, data) in enumerate(said)
    )


def fill(store: Store, rules: RuleBase, cases: int) -> None:
    """Put so many cases into an empty casebook, in bulk."""
    rng = random.Random(7)
    for start in range(0, cases, 2000):
        rows, entries, tried, words = [], [], [], []
        for number in range(start + 1, min(cases, start + 2000) + 1):
            journal, coater = made(rules, number, rng), rng.choice(COATERS)
            rows.append(
                {"id": number, "name": "", "opened_at": journal[0].at, "machine": '{"name": "x"}',
                 "key": uuid.uuid4().hex, "coater": coater, **listed(journal, journal[0].at)}
            )  # fmt: skip
            entries += [{"case_id": number, **row_of_entry(e)} for e in journal]
            tried += [{"case_id": number, **r} for r in remedies(journal)]
            words.append({"case": number, "text": words_of(journal, coater)})
        with store.reading() as db:
            db.execute(CASES.insert(), rows)
            db.execute(ENTRIES.insert(), entries)
            db.execute(REMEDIES.insert(), tried)
            db.execute(sa.text("INSERT INTO words (rowid, text) VALUES (:case, :text)"), words)
            if store.dialect == "postgresql":
                db.execute(sa.text("SELECT setval('cases_id_seq', (SELECT max(id) FROM cases))"))


def milliseconds(clock: Callable[[], float], *works: Callable[[], object]) -> list[list[float]]:
    """What each took, the works by turns; the first turn is left out."""
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(TIMES + 1):
        for work, took in zip(works, taken, strict=True):
            start = clock()
            work()
            took.append(1000 * (clock() - start))
    return [took[1:] for took in taken]


def measure(named: str, rules: RuleBase, cases: int) -> None:
    store = Store(named)
    fill(store, rules, cases)
    settings = rules.settings
    # SQLite works in this process: its own time is steady on a machine that others use too.
    clock = time.process_time if store.dialect == "sqlite" else time.perf_counter

    def raw(*asked: sa.Executable) -> Callable[[], object]:
        def work() -> object:
            with store.reading() as db:
                return [db.execute(query).all() for query in asked]

        return work

    page, words = Wanted(limit=50), Wanted(words="bench 17 east", limit=50)
    chosen = Wanted(complaint="slow_pump_down", cause="seal_dirty", coater="east", limit=50)
    parked = Wanted(status=("parked",), limit=30)
    one = store.journal(cases)
    fresh = store.new_case("", NOW, Machine(name="east"))
    numbers = iter(range(10_000))
    questions: list[tuple[str, Callable[[], object], Callable[[], object] | None]] = [
        ("append an entry",
         lambda: store.save(fresh, Entry(next(numbers), NOW, "note", {"text": "so"})), None),
        ("before the first question", lambda: store.cases(parked),
         raw(parked.query(store.dialect))),
        ("list, first page", lambda: store.cases(page), raw(page.query(store.dialect))),
        ("filter", lambda: store.cases(chosen), raw(chosen.query(store.dialect))),
        ("search", lambda: store.cases(words), raw(words.query(store.dialect))),
        ("like", lambda: alike(store, one, str(one[0].data["complaint"]), "east", cases), None),
        ("learn", lambda: tally(store, "east", NOW, settings),
         raw(*queries(settings))),
    ]  # fmt: skip
    for what, work, plain in questions:
        took, *bare = milliseconds(clock, work, *filter(None, [plain]))
        over = ""
        if bare:
            more = statistics.median(a - b for a, b in zip(took, bare[0], strict=True))
            times = statistics.median(a / b for a, b in zip(took, bare[0], strict=True))
            over = f"{more:+.1f} ms, {times:.2f}"
        typical = statistics.median(took)
        print(f"| {store.dialect} | {cases:,} | {what} | {typical:.1f} | {over} |", flush=True)


def main() -> None:
    parse = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parse.add_argument("--cases", type=int, nargs="+", default=[1_000, 10_000, 100_000])
    parse.add_argument("--postgres", help="the URL of a server")
    given = parse.parse_args()
    rules = load()
    print(f"Rules {rules.hash}, {datetime.date.today()}.\n")
    print("| engine | cases | question | ms | over raw |\n|---|---|---|---|---|", flush=True)
    for cases in given.cases:
        with tempfile.TemporaryDirectory() as folder:
            measure(f"sqlite:///{Path(folder) / 'lab.db'}", rules, cases)
        if given.postgres:
            url = sa.make_url(given.postgres).set(drivername="postgresql+psycopg")
            engine, schema = sa.create_engine(url, isolation_level="AUTOCOMMIT"), uuid.uuid4().hex
            with engine.connect() as db:
                db.execute(sa.schema.CreateSchema(f"b{schema}"))
            try:
                inside = url.update_query_dict({"options": f"-csearch_path=b{schema}"})
                measure(inside.render_as_string(hide_password=False), rules, cases)
            finally:
                with engine.connect() as db:
                    db.execute(sa.schema.DropSchema(f"b{schema}", cascade=True))


if __name__ == "__main__":
    main()
