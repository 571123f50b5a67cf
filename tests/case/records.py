"""A journal from plain records, as tests keep them: the inverse of `journal.as_records`."""

from troubleshoot.case.journal import Entry


def from_records(records):
    return tuple(Entry(r["number"], r["at"], r["kind"], r["data"]) for r in records)
