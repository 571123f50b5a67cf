"""Files as people write them: what plain YAML would read wrongly is read rightly or refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from troubleshoot.errors import UserError
from troubleshoot.strict_yaml import MAX_BYTES, MAX_DEPTH, read


def value(text):
    return read("made_up.yaml", f"a: {text}\n").data["a"]


def refusal(text):
    with pytest.raises(UserError) as caught:
        read("made_up.yaml", text)
    return str(caught.value)


# --- scalars ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    ["no", "yes", "No", "on", "off", "y", "n", "12:30", "1:00:00", "2026-01-31", "0x1F", "0o17",
     "1_000", "1,5", ".inf", ".nan", "1e", "e5", "<<", "="],
)  # fmt: skip
def test_what_is_text_stays_text(text):
    """YAML 1.1 makes false, 750, a date, 31, 1000, infinity ... of these."""
    assert value(text) == text


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1e-3", 1e-3),
        ("1E5", 1e5),
        ("5e-05", 5e-5),
        ("+2.5e+3", 2500.0),
        (".5", 0.5),
        ("-0.25", -0.25),
        ("3.", 3.0),
        ("0.004", 0.004),
        ("-0", 0),
        ("12", 12),
        ("+7", 7),
    ],
)
def test_numbers_are_numbers(text, number):
    """YAML 1.1 reads `1e-3` as text."""
    assert value(text) == number
    assert isinstance(value(text), (int, float))
    assert not isinstance(value(text), bool)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [("true", True), ("FALSE", False), ("null", None), ("~", None), ("", None), ("''", "")],
)
def test_truth_and_nothing(text, wanted):
    """Only true and false are truth values; nothing written is nothing, "" is text."""
    assert value(text) is wanted or value(text) == wanted == ""


@pytest.mark.parametrize("text", ["0777", "-012", "00", "007.5", "01e3"])
def test_leading_zeros_are_refused(text):
    """Is `0777` 777 or 511? The file must say; in quotes it is text."""
    message = refusal(f"b: 1\na: {text}\n")
    assert "made_up.yaml, line 2, key a" in message
    assert "leading zero" in message
    assert value(f"'{text}'") == text


@pytest.mark.parametrize("text", ["1e999", "-1e400", "9" * 400, "9" * 5000])
def test_numbers_beyond_floating_point_are_refused(text):
    """They would become infinity, or an error of Python's own."""
    assert "made_up.yaml, line 1, key a: this number is too large" in refusal(f"a: {text}")


# --- structure ----------------------------------------------------------------------------------


def test_equal_keys_are_refused():
    """Plain YAML keeps the last of two equal keys without a word."""
    message = refusal("x:\n  share: 1\n  other: 2\n  share: 3\n")
    assert "line 4" in message
    assert "'share' stands here twice" in message


def test_keys_equal_once_read_as_text_are_refused():
    """`1` and "1" are the same key: keys are text."""
    assert "'1' stands here twice" in refusal("1: a\n'1': b\n")


def test_keys_are_text():
    """A key that looks like a number, a truth value or nothing is still text."""
    assert read("x", "1: a\nno: b\ntrue: c\n1e3: d\n~: e\n").data == {
        "1": "a",
        "no": "b",
        "true": "c",
        "1e3": "d",
        "~": "e",
    }


@pytest.mark.parametrize("text", ["? [a, b]\n: c\n", "{[a]: 1}", "? {a: 1}\n: 2\n"])
def test_a_key_that_is_not_text_is_refused(text):
    """Lists and mappings as keys."""
    assert "a key must be plain text" in refusal(text)


@pytest.mark.parametrize("text", ["a: &x 1\n", "a: &x 1\nb: *x\n", "a: &x {b: *x}\n", "&k a: 1\n"])
def test_anchors_and_aliases_are_refused(text):
    """A few lines of them can unfold to gigabytes, or never end."""
    message = refusal(text)
    assert "line 1" in message
    assert "anchors and aliases" in message


def test_a_bomb_is_refused_before_it_unfolds():
    """Ten levels of ten aliases each."""
    lines = ["a0: &a0 [x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 11)]
    assert "anchors and aliases" in refusal("\n".join(lines))


@pytest.mark.parametrize(
    "text",
    ["a: !!int abc\n", "a: !!float x\n", "a: !!str 12\n", "a: !!set {b}\n", "a: !mine [1]\n",
     "!mine a: 1\n", "a: !!python/object/apply:os.getcwd []\n", "a: ! b\n", "!!map {a: 1}\n",
     "a: !!binary aGVsbG8=\n"],
)  # fmt: skip
def test_tags_are_refused(text):
    """On values, keys, lists and mappings alike."""
    message = refusal(text)
    assert "line 1" in message
    assert "tag" in message


def test_merge_keys_are_plain_keys():
    """`<<` merges nothing: it is a key like any other, and so unknown to whoever reads it."""
    assert read("x", "<<: {a: 1}\n").data == {"<<": {"a": 1}}


@pytest.mark.parametrize("opening", ["[", "{a: "])
def test_deep_nesting_is_refused(opening):
    """One level more than allowed; 100,000 levels end no differently."""
    closing = "]" if opening == "[" else "}"
    fine = opening * MAX_DEPTH + "1" + closing * MAX_DEPTH
    assert read("x", fine).data
    assert "nested deeper" in refusal(opening * (MAX_DEPTH + 1) + "1" + closing * (MAX_DEPTH + 1))
    assert refusal(opening * 100_000)


def test_two_documents_are_refused():
    """`---` in the middle starts a second one; at the top it is allowed."""
    assert "line 2: only one YAML document" in refusal("a: 1\n---\nb: 2\n")
    assert "only one YAML document" in refusal("a: 1\n---\n")
    assert read("x", "---\na: 1\n").data == {"a": 1}


@pytest.mark.parametrize("text", ["", "  \n\n", "\t"])
def test_an_empty_file_is_refused(text):
    """With what to do about it."""
    assert "made_up.yaml is empty" in refusal(text)


def test_only_comments_hold_nothing():
    """No error here; whoever needs keys says so."""
    assert read("x", "# nothing yet\n").data is None


@pytest.mark.parametrize(
    "text", ["a: [1, 2\n", "a: 'b\n", "a: b: c\n", "a: 1\n b: 2\n", "a: @x\n", "}"]
)
def test_what_is_not_yaml_names_its_line(text):
    """The parser's complaint comes as one sentence with the file, the line and what to mend."""
    message = refusal(text)
    assert message.startswith("made_up.yaml, line ")
    assert "not valid YAML" in message
    assert "\n" not in message


# --- lines --------------------------------------------------------------------------------------


def test_every_key_and_item_knows_its_line():
    """Lines count from 1; what has none of its own answers with what holds it."""
    document = read(
        "rules.yaml", "# head\ncauses:\n  leak:\n    share: 2\n    list:\n    - a\n    - b\n"
    )
    assert document.line(("causes",)) == 2
    assert document.line(("causes", "leak", "share")) == 4
    assert document.line(("causes", "leak", "list", 1)) == 7
    assert document.line(("causes", "leak", "absent", "deeper")) == 3
    assert document.line(("nowhere",)) == 2
    assert (
        document.place(("causes", "leak", "share")) == "rules.yaml, line 4, key causes.leak.share"
    )


# --- files --------------------------------------------------------------------------------------


def file_refusal(path):
    with pytest.raises(UserError) as caught:
        read(path)
    assert str(path) in str(caught.value)
    return str(caught.value)


def test_a_file_is_read_with_or_without_a_byte_order_mark(tmp_path):
    """Editors on some systems put three bytes in front of UTF-8."""
    for head in (b"", b"\xef\xbb\xbf"):
        path = tmp_path / "a.yaml"
        path.write_bytes(head + "a: Überdruck\r\nb: 2\r\n".encode())
        assert read(path).data == {"a": "Überdruck", "b": 2}


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"a: \xff\xfe\n", "UTF-8"),
        ("a: Überdruck\n".encode("latin-1"), "UTF-8"),
        ("a: 1\n".encode("utf-16"), "UTF-8"),
        (b"a: 1\0\n", "binary"),
        (b"\x89PNG\r\n\x1a\n\0\0", "UTF-8"),
        (b"a: \x07bell\n", "not valid YAML"),
        (b'name: so\na: "b\\0.csv"\n', "line 2: a text holds the character \\0"),
        (b"", "empty"),
        (b"a: '" + b"x" * MAX_BYTES + b"'\n", "larger than"),
    ],
)
def test_files_that_cannot_be_used(tmp_path, raw, words):
    """Not text, not UTF-8, empty, too large: one sentence with the file's name."""
    path = tmp_path / "b.yaml"
    path.write_bytes(raw)
    assert words in file_refusal(path)


def test_files_that_are_not_there(tmp_path):
    """Absent, or a folder."""
    assert "does not exist" in file_refusal(tmp_path / "c.yaml")
    assert "is a folder" in file_refusal(tmp_path)


# --- anything -----------------------------------------------------------------------------------


def plain(data):
    """True when `data` is made of dictionaries with text keys, lists and finite scalars only."""
    if isinstance(data, dict):
        return all(isinstance(k, str) and plain(v) for k, v in data.items())
    if isinstance(data, list):
        return all(plain(v) for v in data)
    return data is None or isinstance(data, (str, bool)) or math.isfinite(data)


def data_or_refusal(path, text=None):
    """What `read` gives, or the message of its refusal."""
    try:
        return read(path, text).data, None
    except UserError as error:
        return None, str(error)


@given(
    st.one_of(
        st.text(),
        st.text(alphabet="ab:-?!&*[]{}'\"#|>%@`~ \n\t0127.eE+,<="),
        st.text(alphabet="!&*{}[]:- \na1").map(lambda t: "a:\n  " + t),
    )
)
def test_any_text_is_read_or_refused(text):
    """Nothing but plain finite data or a `UserError` that names the file comes out."""
    data, message = data_or_refusal("made_up.yaml", text)
    assert plain(data) if message is None else message.startswith("made_up.yaml")


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(tmp_path_factory, raw):
    """The same for a file of any bytes."""
    path = tmp_path_factory.mktemp("any") / "x.yaml"
    path.write_bytes(raw)
    data, message = data_or_refusal(path)
    assert plain(data) if message is None else message.startswith(str(path))


@pytest.mark.parametrize("text", ["a:\n\t- b\n", "a:\n  - b\n\t- c\n", "\ta: b\n"])
def test_a_tab_in_the_indentation_is_named(text):
    with pytest.raises(UserError, match=r"line \d: a tab stands in the indentation.*put spaces"):
        read("a.yaml", text)
