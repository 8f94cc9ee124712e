"""Rosters, assignments, hand-ins: read with care, marked by one's own numbers, and nothing dropped silently."""

from __future__ import annotations

import io
import json
import os
import socket
import sys
import threading
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import eyesim as es
from eyesim.eye.sources import data_folder
from eyesim.marking.assignment import parse_assignment, read_assignment
from eyesim.marking.handin import LARGEST, Answered, Damaged, HandIn, parse_hand_in, read_hand_in
from eyesim.marking.mark import collect, mark_hand_in
from eyesim.marking.roster import parse_roster, read_roster

HOUR = read_assignment(data_folder() / "demo" / "assignment.toml")
PEOPLE = parse_roster("id,name\nr-1,Ada\nr-2,Bo\nr-3,Cleo\n")
ENTRIES = {entry.name: entry for entry in HOUR.entries}


def handed(who="r-1", answers=None, **changes):
    """Hand-in of somebody who answers everything rightly, unless said otherwise."""
    if answers is None:
        answers = {}
        for entry in HOUR.entries:
            asked = HOUR.question(entry, who)
            right = "It depends on the line." if asked is None else asked.reference.answer
            numbers = tuple((HOUR.parameters(entry, who) or {}).items())
            answers[entry.name] = Answered(right, "certain", numbers)
    given = {"person": who, "assignment": HOUR.title, "mark": HOUR.mark, "version": HOUR.version}
    return HandIn(answers=answers, **{**given, **changes})


def everybody(assignment, roster, found):
    return [mark_hand_in(assignment, person, found.by_person.get(person.id)) for person in roster.people]


def marked(folder, roster=PEOPLE):
    found = collect(folder, HOUR, roster)
    return {one.person.id: one for one in everybody(HOUR, roster, found)}, found.remarks


# ---------------------------------------------------------------- rosters


@pytest.mark.parametrize("text", [
    "id,name,e-mail\nr-1,Ada,ada@example.org\n", "\ufeffid;name;e-mail\r\nr-1;Ada;ada@example.org\r\n",
    "name\tid\te-mail\textra\nAda\tr-1\tada@example.org\t\n", "ID , Name , Mail\nr-1,Ada,ada@example.org",
    '"id","name","email"\n"r-1","Ada","ada@example.org"\n',
])  # fmt: skip
def test_rosters_of_many_hands(text, tmp_path):
    path = tmp_path / "people.csv"
    path.write_bytes(text.encode())
    (person,) = read_roster(path).people
    assert (person.id, person.name, person.email) == ("r-1", "Ada", "ada@example.org")


def test_reference_a_oneroster_users_file():
    # OneRoster 1.2, CSV binding (1EdTech), users.csv: the columns as the specification lists them
    head = (
        "sourcedId,status,dateLastModified,enabledUser,username,userIds,givenName,familyName,middleName,identifier,"
        "email,sms,phone,agentSourcedIds,grades,password,userMasterIdentifier,resourceSourcedIds,preferredGivenName,"
        "preferredMiddleName,preferredFamilyName,primaryOrgSourcedId,pronouns"
    )
    rows = ["u-1,active,2026-01-01,true,ada,,Ada,Aldersey,,,ada@example.org,,,,,,,,,,,,",
            "u-2,tobedeleted,2026-01-01,true,bo,,Bo,Brandvold,,,,,,,,,,,,,,,",
            "u-3,active,2026-01-01,false,cleo,,Cleo,Castellane,,,,,,,,,,,,,,,"]  # fmt: skip
    roster = parse_roster("\n".join([head, *rows]))
    assert [(one.id, one.name) for one in roster.people] == [("u-1", "Ada Aldersey")]
    assert [remark.split(":")[0] for remark in roster.remarks] == ["line 3", "line 4"]


def test_what_a_roster_holds_amiss_is_said_by_line():
    roster = parse_roster("id,name,email\nr-1,Ada,not an address\n,Bo,\nR-1,Ada again,\n , ,\nr-4,,\nr-5," + "x" * 300)
    assert [one.id for one in roster.people] == ["r-1", "r-4"]
    assert roster["r-4"].called == "r-4"
    for line, words in ((2, "e-mail"), (3, "no id"), (4, "line 2 already"), (5, "blank"), (7, "more than")):
        assert any(one.startswith(f"line {line}:") and words in one for one in roster.remarks), (line, roster.remarks)


@pytest.mark.parametrize(("content", "words"), [
    (b"", "empty"), (b"\n\n", "empty"), (b"name,mail\nAda,a@b", "says who"), (b"id,name\n", "Nobody"),
    ("id,name\nr-1,J\xf6rg".encode("latin-1"), "UTF-8"), ("id\nr-1".encode("utf-16"), "UTF-16"),
    (b"id\n\0\0\0", "no text"), (b'id,name\n"r-1,' + b"x" * 200_000, "line"), (b"PK\x03\x04\xff\xfe", "UTF-8"),
])  # fmt: skip
def test_what_is_no_roster_is_said_in_words(content, words, tmp_path):
    path = tmp_path / "people.csv"
    path.write_bytes(content)
    with pytest.raises(es.LearnerError, match=words):
        read_roster(path)


def test_names_are_only_names():
    roster = parse_roster("id,name\n../../etc/passwd,<script>alert(1)</script>\n=cmd|' /C calc'!A0,\u202eevil\x07\n")
    assert [one.id for one in roster.people] == ["../../etc/passwd", "=cmd|' /C calc'!A0"]
    assert roster.people[1].name == "evil"


# ---------------------------------------------------------------- assignments


def test_the_demonstration_hour_asks_the_same_item_twice_with_other_numbers():
    assert HOUR.minutes == 60
    assert {entry.part for entry in HOUR.entries} == {"Before", "Three exercises", "After"}
    assert any(
        HOUR.parameters(ENTRIES["marks.shift"], who) != HOUR.parameters(ENTRIES["after.marks.shift"], who)
        for who in ("r-1", "r-2", "r-3", "r-4")
    )
    assert HOUR.parameters(ENTRIES["tuck"], "r-1") is None


@pytest.mark.parametrize(("text", "words"), [
    ("", "title"), ("title = 3", "title"), ("title = 'a'\nseed = ''", "seed"), ("titel = 'a'", "titel"),
    ("title = 'a'\nseed = 's'", "part"), ("title = 'a'\nseed = 's'\npart = 3", "part"), ("= 3", "cannot be read"),
    ("title='a'\nseed='s'\nfeedback='never'\n[[part]]\ntitle='p'\nitems=[{item='marks.shift'}]", "feedback"),
    ("title='a'\nseed='s'\n[[part]]\ntitle='p'\nitems=[{item='marks.shfit'}]", "marks.shift"),
    ("title='a'\nseed='s'\n[[part]]\ntitle='p'\nitems=[]", "no items"),
    ("title='a'\nseed='s'\n[[part]]\ntitle='p'\nitems=[{item='marks.shift'},{item='marks.shift'}]", "twice"),
    ("title='a'\nseed='s'\n[[part]]\ntitle='p'\nitems=[{item='marks.shift', points=-1}]", "points"),
    ("title='a'\nseed='s'\n[[part]]\ntitle='p'\nitems=[{text='why', name='why'}]", "rubric"),
    ("title='a'\nseed='s'\n[[part]]\ntitle='p'\nitems=[{text='why', rubric='r', name='../x'}]", "name"),
    ("title='a'\nseed='s'\n[[part]]\ntitle='p'\nitems=[{item='marks.shift', text='b'}]", "either"),
    ("title='a'\nseed='s'\ndue='monday'\n[[part]]\ntitle='p'\nitems=[{item='marks.shift'}]", "zone"),
    ("title='a'\nseed='s'\nminutes=0\n[[part]]\ntitle='p'\nitems=[{item='marks.shift'}]", "minutes"),
    ("a = " + "[" * 3000, "cannot be read"),
])  # fmt: skip
def test_what_is_no_assignment_is_said_in_words(text, words):
    with pytest.raises(es.LearnerError, match=words):
        parse_assignment(text)


# ---------------------------------------------------------------- hand-ins


def test_a_hand_in_is_by_its_published_schema_and_comes_back_as_it_was():
    one = handed()
    back = parse_hand_in(one.text().encode())
    assert back.answers == one.answers
    assert (back.person, back.mark) == (one.person, one.mark)
    assert len(back.digest) == 64


def _with(**changes):
    return json.dumps({**json.loads(handed().text()), **changes}).encode()


def _answering(answer, name="marks.shift"):
    return _with(answers={name: {"answer": answer}})


HOSTILE = {
    "empty": b"",
    "blank": b" \n ",
    "no-json": b"hello",
    "cut-off": lambda: handed().text().encode()[:200],
    "a-list": b"[]",
    "a-number": b"3",
    "null": b"null",
    "nan": b'{"a": NaN}',
    "infinity": b'{"a": -Infinity}',
    "huge-float": b'{"a": 1e999}',
    "huge-int": b'{"a": ' + b"9" * 5000 + b"}",
    "large-int": lambda: _answering(10**30),
    "deep-lists": b"[" * 100_000,
    "deep-objects": b'{"a":' * 50_000,
    "deep-plan": lambda: _answering({"a": {"b": {"c": {"d": 1}}}}),
    "twice": b'{"person": "r-1", "person": "r-2"}',
    "utf-16": lambda: handed().text().encode("utf-16"),
    "latin-1": '{"person": "J\xf6rg"}'.encode("latin-1"),
    "binary": bytes(range(256)),
    "nulls": b"\0" * 1000,
    "half-a-character": b'{"person": "\\ud800"}',
    "pickle": b"\x80\x04\x95\x0b\x00\x00\x00\x00\x00\x00\x00\x8c\x07eyesim\x94.",
    "zip": None,
    "notebook": b'{"cells": [], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}',
    "too-large": b'"' + b"x" * LARGEST + b'"',
    "no-person": lambda: _with(person=""),
    "long-person": lambda: _with(person="x" * 500),
    "person-is-a-list": lambda: _with(person=["r-1"]),
    "other-format": lambda: _with(format="eyesim hand-in 2"),
    "more-than-there-is": lambda: _with(extra=1),
    "no-mark": lambda: _with(mark="zz"),
    "version-with-a-path": lambda: _with(version="../1"),
    "answers-is-a-text": lambda: _with(answers="all right"),
    "many-answers": lambda: _with(answers={f"q{i}": {"answer": 1} for i in range(99)}),
    "name-is-a-path": lambda: _answering(1, "../../x"),
    "name-is-a-script": lambda: _answering(1, "<script>"),
    "answer-is-null": lambda: _answering(None),
    "answer-is-true": lambda: _answering(True),
    "answer-is-a-list": lambda: _answering([1, 2]),
    "long-answer": lambda: _answering("x" * 9000),
    "wide-plan": lambda: _answering({f"k{i}": 1 for i in range(99)}),
    "long-key": lambda: _answering({"k" * 900: 1}),
    "sure-of-what": lambda: _with(answers={"marks.shift": {"answer": 1, "confidence": "=1+1"}}),
    "html": b"<html><script>alert(1)</script>",
    "xml-bomb": b'<!DOCTYPE x [<!ENTITY a "aaaa">]><x>&a;</x>',
    "toml": b"person = 'r-1'",
    "yaml": b"!!python/object:os.system {}",
}
_zip = io.BytesIO()
with zipfile.ZipFile(_zip, "w", zipfile.ZIP_DEFLATED) as _file:
    _file.writestr("x.json", b"0" * 5_000_000)
HOSTILE["zip"] = _zip.getvalue()


@pytest.mark.parametrize("kind", HOSTILE)
def test_what_is_no_hand_in_is_said_in_words(kind, tmp_path):
    content = HOSTILE[kind]
    (tmp_path / "x.json").write_bytes(content() if callable(content) else content)
    with pytest.raises(Damaged) as raised:
        read_hand_in(tmp_path / "x.json")
    assert 10 < len(str(raised.value)) < 300
    _, remarks = marked(tmp_path)
    assert [(one.kind, one.about) for one in remarks] == [("damaged", "x.json")]


def test_there_are_more_than_forty_hostile_kinds():
    assert len(HOSTILE) > 40


@pytest.mark.parametrize(
    "answer",
    [
        "__import__('os').system('touch x')",
        "=1+1",
        "+1",
        "-1-1",
        "@SUM(A1)",
        "<script>alert(1)</script>",
        "'; DROP TABLE x",
        "\u202e",
        "${HOME}",
        "{{7*7}}",
        "%s%s%n",
        "0x10",
        "1e5",
        "\u0661\u0662",
        "1\u00a0234",
        "\u221e",
        -1e15,
        0,
        {"first": "=1"},
        {"__class__": 1},
        {"iris_angle": "1;2"},
        "A" * 4000,
    ],
)
@pytest.mark.parametrize(
    "name", ["marks.shift", "start.alike", "start.follow", "needles.two-walls", "tunnels.recentre", "tuck"]
)
def test_whatever_is_answered_is_marked_or_left_to_the_director_and_never_run(name, answer, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "a.json").write_text(handed(answers={name: Answered(answer)}).text(), encoding="utf-8")
    before = set(sys.modules)
    people, _ = marked(folder)
    (one,) = (mark for mark in people["r-1"].marks if mark.name == name)
    assert one.points is None if name == "tuck" else one.points == 0.0 or one.share is not None
    assert one.words
    assert not (tmp_path / "x").exists()
    assert {m for m in set(sys.modules) - before if m.startswith(("os.", "subprocess"))} == set()


def test_marking_finds_everybody_s_own_right_answers_again(tmp_path):
    for who in ("r-1", "r-2", "r-3"):
        (tmp_path / f"{who}.json").write_text(handed(who).text())
    people, remarks = marked(tmp_path)
    assert [(one.state, one.points) for one in people.values()] == [("handed in", 15.0)] * 3
    assert people["r-1"].waiting == ("tuck",)
    assert [one.kind for one in remarks] == []


def test_the_answers_of_another_are_worth_what_they_are_by_one_s_own_numbers(tmp_path):
    other = handed("r-2").answers
    (tmp_path / "r-1.json").write_text(handed("r-1", other).text())
    (tmp_path / "r-2.json").write_text(handed("r-2").text())
    people, remarks = marked(tmp_path)
    assert people["r-1"].points < 12.0
    assert any(one.kind == "alike" and one.about == "r-1, r-2" for one in remarks)
    (numbers,) = (one for one in remarks if one.kind == "numbers")
    assert "those of r-2" in numbers.words


def test_nothing_is_dropped_silently(tmp_path):
    def put(name, one, when=1_700_000_000):
        place = tmp_path / name
        place.parent.mkdir(exist_ok=True)
        place.write_text(one.text() if isinstance(one, HandIn) else one, encoding="utf-8")
        os.utime(place, (when, when))

    put("sub/first.json", handed("r-1", {}))
    put("second.json", handed("r-1", person="R-1"), 1_700_000_100)
    put("stranger.json", handed("r-1", person="nobody"))
    put("other.json", handed("r-2", mark="0" * 16))
    put("old.json", handed("r-2", version="0.0.1"))
    put("more.json", handed("r-3", {"nonsense": Answered(1), "marks.shift": Answered(1, numbers=(("off", 99.0),))}))
    put("damaged.json", "{")
    people, remarks = marked(tmp_path)
    assert people["r-1"].points == 15.0
    assert people["r-1"].file == "second.json"
    kinds = {(one.kind, one.about) for one in remarks}
    assert kinds == {
        ("duplicate", "sub/first.json"),
        ("unmatched", "stranger.json"),
        ("foreign", "other.json"),
        ("version", "old.json"),
        ("unknown", "more.json"),
        ("numbers", "more.json"),
        ("damaged", "damaged.json"),
    }
    assert all(one.words.endswith((".", "?")) for one in remarks)
    assert marked(tmp_path) == (people, remarks)


def test_late_is_by_the_time_of_the_file(tmp_path):
    text = "title='a'\nseed='s'\ndue=2026-01-02T00:00:00Z\n[[part]]\ntitle='p'\nitems=[{item='marks.shift'}]"
    due = parse_assignment(text)
    one = HandIn("r-1", due.title, due.mark, due.version, {})
    for name, when, state in (("a", due.due.timestamp() - 1, "handed in"), ("a", due.due.timestamp() + 1, "late")):
        (tmp_path / name).write_text(one.text())
        os.utime(tmp_path / name, (when, when))
        found = collect(tmp_path, due, PEOPLE)
        assert [one.state for one in everybody(due, PEOPLE, found)] == [state, "missing", "missing"]


@pytest.mark.skipif(sys.platform == "win32", reason="no such files there")
def test_links_pipes_and_sockets_are_named_and_not_opened(tmp_path):
    secret = tmp_path / "secret.json"
    secret.write_text(handed().text())
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "link.json").symlink_to(secret)
    (folder / "loop").symlink_to(folder)
    (folder / "gone.json").symlink_to(tmp_path / "nothing")
    os.mkfifo(folder / "pipe.json")
    with socket.socket(socket.AF_UNIX) as here:
        here.bind(str(folder / "s.json"))
        done = []
        thread = threading.Thread(target=lambda: done.append(marked(folder)), daemon=True)
        thread.start()
        thread.join(30.0)
    people, remarks = done[0]
    assert {one.about for one in remarks} == {"link.json", "loop", "gone.json", "pipe.json", "s.json"}
    assert {one.state for one in people.values()} == {"missing"}


@pytest.mark.skipif(sys.platform == "win32", reason="files there are not sparse")
def test_a_file_of_two_gigabytes_is_named_and_not_read(tmp_path):
    with (tmp_path / "large.json").open("wb") as file:
        file.truncate(2_000_000_000)
    _, remarks = marked(tmp_path)
    assert "larger than" in remarks[0].words


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=20,
)


@pytest.mark.slow
@given(_JSON)
@settings(max_examples=60, deadline=None)
def test_property_json_that_is_no_hand_in_is_damaged(found):
    with pytest.raises(Damaged, match=".{9}"):
        parse_hand_in(json.dumps(found).encode())


@given(st.binary(max_size=300) | st.text(max_size=200).map(lambda text: text.encode("utf-8", "surrogatepass")))
@settings(max_examples=100, deadline=None)
def test_property_bytes_that_are_no_hand_in_are_damaged(content):
    with pytest.raises(Damaged):
        parse_hand_in(content)


@given(st.sampled_from(sorted(ENTRIES)), st.one_of(
    st.text(max_size=60), st.integers(-(10**9), 10**9), st.floats(-1e9, 1e9),
    st.dictionaries(st.sampled_from(["first", "second", "meridian", "iris_angle", "limbus_angle"]), st.one_of(
        st.floats(-1e4, 1e4), st.text(max_size=12), st.dictionaries(
            st.sampled_from(["limbus_angle", "iris_angle", "x"]), st.floats(-500, 500), max_size=3)), max_size=3),
))  # fmt: skip
@settings(max_examples=150, deadline=None)
def test_property_any_answer_is_judged(name, answer):
    from eyesim.marking.mark import HandedIn

    one = parse_hand_in(handed(answers={name: Answered(answer)}).text().encode())
    told = mark_hand_in(HOUR, PEOPLE.people[0], HandedIn(one, data_folder() / "x", 0.0))
    found = next(mark for mark in told.marks if mark.name == name)
    assert found.share is None or 0.0 <= found.share <= 1.0
    assert "could not judge" not in found.words
    assert 0.0 <= told.points <= 15.0
