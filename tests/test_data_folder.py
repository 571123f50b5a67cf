"""No test can touch the data of the person who runs the tests."""

import platformdirs

from troubleshoot.casebook.place import data_folder as folder
from troubleshoot.casebook.store import Store
from troubleshoot.coater.machine import Machine


def test_the_data_folder_of_a_test_is_its_own(data_folder, tmp_path):
    assert folder() == data_folder
    assert data_folder.is_relative_to(tmp_path)


def test_the_users_folder_is_never_asked_for(monkeypatch, data_folder):
    def refuse(*args, **more):
        raise AssertionError("the user's own data folder was asked for")

    monkeypatch.setattr(platformdirs, "user_data_dir", refuse)
    store = Store()
    store.new_case("mine", "2026-01-05T09:00:00", Machine())
    assert (data_folder / "cases.db").is_file()


def test_without_the_variable_it_is_the_users_folder(monkeypatch):
    monkeypatch.delenv("TROUBLESHOOT_DATA")
    monkeypatch.setattr(platformdirs, "user_data_dir", lambda name, **more: f"/users/{name}")
    assert str(folder()) == "/users/troubleshoot"
