"""Lists answered by keys: what a key takes, what it never takes, and what stands on the screen."""

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from troubleshoot.show.picking import DOWN, END, ENTER, ESCAPE, HOME, UP, Picker, Taken, broken
from troubleshoot.talk.dialogue import MORE, Choice
from troubleshoot.talk.talk import ASIDES

ANSWERS = (
    Choice("dusty", "Dust or flakes on it", words=("fluff",)),
    Choice("torn", "Torn or nicked"),
    Choice("clean", "Clean and smooth"),
)
SEAL = Picker((*ANSWERS, *ASIDES), unmatched=ASIDES[4])
TORN = Picker(ANSWERS)
TWELVE = Picker(tuple(Choice(str(n), f"answer {n}") for n in range(1, 13)))
STOPPED = Picker((Choice("done", "Done and told", typed="done"), Choice("stop", "Stop here")))
LISTED = ("answer", "pointed")
KEYS = st.sampled_from(
    [*"0123456789abcdustorn ?<!=+.,", ENTER, UP, DOWN, END, ESCAPE, "backspace", "pageup", "f5"]
)


def pressed(picker, keys):
    """What comes of the keys, up to the first that takes something."""
    for key in keys:
        picker = picker.press(key)
        if isinstance(picker, Taken):
            return [c.value for c in picker.choices]
    return picker


@pytest.mark.parametrize(
    ("keys", "taken"),
    [
        ("2", ["torn"]),
        ([DOWN, ENTER], ["dusty"]),
        ([UP, ENTER], ["clean"]),
        ([DOWN, DOWN, DOWN, UP, ENTER], ["torn"]),
        ([END, HOME, ENTER], ["dusty"]),
        ([END, "pageup", ENTER], ["dusty"]),
        ([*"torn", ENTER, ENTER], ["torn"]),
        ([*"fluff", ENTER, ENTER], ["dusty"]),
        ([*"smo", DOWN, ENTER], ["clean"]),
        ([*"log", ENTER, ENTER], ["/log"]),
        ("?", ["/why"]),
        ("<", ["/back"]),
        ("!", ["/danger"]),
        ("=", ["/recorded"]),
        ([*"dust", "<"], ["/back"]),
        ([MORE, *"5"], ["/other"]),
        ([*"it hums", ENTER], ["/other"]),
    ],
)
def test_what_keys_take(keys, taken):
    assert pressed(SEAL, keys) == taken


@pytest.mark.parametrize(
    "keys",
    [
        [ENTER], [ENTER] * 5, "4", "0", [" "], [ESCAPE, ENTER], ["f5"], ["tab", ENTER],
        [*"torn", ENTER], [*"o", ENTER], [*"torn", ESCAPE, ENTER], [DOWN, ESCAPE, ENTER],
        [*"bad vacuum"], "2"[:0],
    ],
)  # fmt: skip
def test_what_takes_nothing(keys):
    assert isinstance(pressed(SEAL, keys), Picker)


def test_a_key_that_does_nothing_says_so():
    for key in (ENTER, ESCAPE, "f5", "9", " "):
        assert SEAL.press(key).said


@pytest.mark.parametrize(
    ("typed", "said"),
    [("", "type its number"), ("o", "type more"), ("bad vacuum", "Esc clears")],
)
def test_enter_that_takes_nothing_names_what_would(typed, said):
    """Where letters stand, a digit is one letter more: no number is asked for then."""
    picker = pressed(TORN, [*typed, ENTER])
    assert said in picker.said
    assert ("number" in " ".join(row for _, row in picker.rows("?", 80, 40))) == (not typed)


def test_a_digit_that_may_begin_a_longer_number_waits():
    assert pressed(TWELVE, "12") == ["12"]
    assert pressed(TWELVE, ["1", ENTER]) == ["1"]
    assert pressed(TWELVE, "7") == ["7"]
    assert isinstance(pressed(TWELVE, "1"), Picker)
    assert isinstance(pressed(TWELVE, "13"), Picker)


def test_digits_after_letters_are_letters():
    assert isinstance(pressed(SEAL, "t2"), Picker)


@pytest.mark.parametrize(
    "keys", [["1"], [DOWN, ENTER], [*"done an", ENTER], [*"don", ENTER, ENTER]]
)
def test_what_must_be_typed_is_taken_by_nothing_else(keys):
    assert pressed(STOPPED, keys) != ["done"]


def test_what_must_be_typed_is_taken_by_its_word():
    assert pressed(STOPPED, [*"done", ENTER]) == ["done"]


def test_several_are_marked_and_taken_back_before_enter_goes_on():
    many = Picker(ANSWERS, several=True)
    assert pressed(many, ["1", "3", "1", ENTER]) == ["clean"]
    assert pressed(many, [DOWN, " ", DOWN, " ", ENTER]) == ["dusty", "torn"]
    assert pressed(many, [*"torn", ENTER, ENTER]) == ["torn"]
    assert isinstance(pressed(many, [ENTER, DOWN, ENTER]), Picker)


@settings(max_examples=400, deadline=None)
@given(keys=st.lists(KEYS, max_size=14), several=st.booleans())
@example(keys=["+", "1", " "], several=True)
def test_whatever_is_taken_stood_on_the_screen_and_was_pointed_at(keys, several):
    """Its number, the pointer, its mark or a key of the foot line was there before the last key."""
    picker = Picker(SEAL.choices, several=several, unmatched=None if several else ASIDES[4])
    for key in keys:
        before, picker = picker, picker.press(key)
        if not isinstance(picker, Taken):
            continue
        rows = [t for style, t in before.rows("How is it?", 80, 40) if style in LISTED]
        for choice in picker.choices:
            if choice.key == key or (picker.typed and not before.visible):
                continue
            (row,) = [r for r in rows if choice.label in r]
            by_number = key.isdigit() and row.lstrip("> ").split()[0] == before.number + key
            pointed = row.startswith(">") and (key == ENTER or (several and key == " "))
            assert by_number or pointed or (key == ENTER and "[x]" in row)
        return


@pytest.mark.parametrize(("width", "height"), [(60, 20), (80, 24), (200, 50)])
@pytest.mark.parametrize("keys", [[], [END], [DOWN] * 7, [*"answer"]])
def test_question_and_what_is_pointed_at_stay_in_sight(width, height, keys):
    long = Picker(tuple(Choice(str(n), f"answer {n} " + "word " * 25) for n in range(30)))
    state = pressed(long, keys)
    rows = state.rows("How does it look? " * 8, width, height)
    assert len(rows) <= height
    assert all(len(text) <= width for _, text in rows)
    assert rows[0][1].startswith("? How does it look?")
    assert (state.at is None) == (not any(style == "pointed" for style, _ in rows))
    cut = any("more below" in text or "more above" in text for _, text in rows)
    assert cut == (height < 40)


def foot(count, **more):
    """The line below a list of so many answers."""
    picker = Picker(tuple(Choice(str(n), f"answer {n}") for n in range(count)), **more)
    return " ".join(
        text.strip() for style, text in picker.rows("Which?", 80, 40) if style == "foot"
    )


@pytest.mark.parametrize(
    ("count", "said"),
    [(9, None), (10, "1 needs Enter"), (19, "1 needs Enter"), (20, "1 and 2 need Enter")],
)
def test_a_long_list_says_beforehand_which_digits_wait(count, said):
    """A first digit that may go on is not taken at once, and nobody is left to wonder."""
    shown = foot(count)
    assert said in shown if said else "Enter" not in shown


PATH = "/srv/plankton-survey/2026-03-monday/coater-2/a rather long name.csv"


@pytest.mark.parametrize("width", [24, 40, 80])
def test_a_path_is_broken_between_its_folders(width):
    """Not within a name, nor at a hyphen in it."""
    lines = broken(f"Which file, as in {PATH}?", width)
    assert all(len(line) <= width for line in lines)
    said = "".join(lines)
    names = [name for part in PATH.split() for name in part.split("/")]
    assert all(name in said and any(name in line for line in lines) for name in names)


def test_a_name_that_is_longer_than_a_line_is_still_shown_whole():
    lines = broken("x" * 50, 20)
    assert "".join(lines) == "x" * 50
    assert all(len(line) <= 20 for line in lines)
