"""The kept copy of the rules is the rules, and is never believed where others could write."""

import os

import pytest

from troubleshoot.knowledge import kept
from troubleshoot.knowledge import load as loading


@pytest.fixture
def cache(tmp_path, monkeypatch):
    folder = tmp_path / "cache"
    monkeypatch.setenv("TROUBLESHOOT_CACHE", str(folder))
    return folder


def copies(cache):
    return sorted(cache.glob("rules-*.json"))


def test_the_second_reading_is_the_first(cache, monkeypatch, rules):
    first = loading.load()
    assert first == rules
    (copy,) = copies(cache)
    assert copy.stat().st_mode & 0o077 == 0
    monkeypatch.setattr(loading, "load_with_places", lambda *_: pytest.fail("the YAML was read"))
    assert loading.load() == rules


@pytest.mark.first_quick(1)
@pytest.mark.parametrize("damage", ["", "{}", "not json", '{"hash": 1}'])
def test_a_damaged_copy_is_read_over(cache, rules, damage):
    loading.load()
    (copy,) = copies(cache)
    copy.write_text(damage, encoding="utf-8")
    assert loading.load() == rules


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="file owners are POSIX")
@pytest.mark.parametrize("which", ["folder", "copy"])
def test_what_others_could_have_written_is_not_read(cache, monkeypatch, which):
    loading.load()
    (copy,) = copies(cache)
    (cache if which == "folder" else copy).chmod(0o777)
    asked = []
    whole = loading.load_with_places
    monkeypatch.setattr(loading, "load_with_places", lambda f: asked.append(f) or whole(f))
    loading.load()
    assert asked


def test_any_change_of_a_file_is_another_key(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text("a: 1", encoding="utf-8")
    first = kept.key_of([path])
    path.write_text("a: 2", encoding="utf-8")
    assert kept.key_of([path]) != first


def test_few_copies_stay(cache, rules):
    for number in range(6):
        kept.write(f"{number:032d}", rules)
    assert len(copies(cache)) == kept.KEEP


def test_a_folder_that_cannot_be_made_costs_nothing_but_time(tmp_path, monkeypatch, rules):
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setenv("TROUBLESHOOT_CACHE", str(tmp_path / "file" / "below"))
    assert loading.load() == rules
