"""Marks as files that others read: a gradebook, columns for learning platforms, OneRoster tables, xAPI statements.

Text that came from outside stands in a spreadsheet as text: a cell that would begin a formula gets an apostrophe before
it in CSV, and the kind "text" in the workbook. The same marks give the same bytes.
"""

from __future__ import annotations

import datetime
import hashlib
import io
import json
import re
import uuid
import zipfile

from ..marking import manual
from ..text.tables import table_bytes

_STATEMENTS = uuid.UUID("6f1c2f0e-6f0b-5a51-9b7e-2f7f6f4f9a10")  # of our own: ids of statements are digests in it
_HOME = "https://eyesim.invalid/pseudonym"  # an address that nobody can own (RFC 2606)
_FIXED = (1980, 1, 1, 0, 0, 0)


def tables(assignment, everybody, remarks, waiting=()):
    """All tables of marks.

    Parameters
    ----------
    assignment : Assignment
    everybody : list of Result
    remarks : iterable of Remark
    waiting : iterable of rows
        What the director marks, from `marking.manual.waiting_texts`.

    Returns
    -------
    dict
        File name to content, bytes.
    """
    rows = _rows(assignment, everybody)
    head = ["points", "state", "not marked yet"]
    email = [["email", *head], *([one.person.email, *_cells(one)] for one in everybody if one.person.email)]
    odd = [["kind", "about", "remark"], *([one.kind, one.about, one.words] for one in remarks)]
    return {
        "gradebook.csv": table_bytes(rows),
        "gradebook.xlsx": _workbook(assignment.title, rows, _answers(everybody)),
        "answers.csv": table_bytes(_answers(everybody)),
        **({manual.NAME: table_bytes(waiting)} if len(waiting) > 1 else {}),
        "remarks.csv": table_bytes(odd),
        "platform/by-id.csv": table_bytes([["id", *head], *([one.person.id, *_cells(one)] for one in everybody)]),
        "platform/by-email.csv": table_bytes(email),
        "platform/by-name.csv": table_bytes(_by_name(assignment, everybody)),
        "oneroster/lineItems.csv": table_bytes(_line_items(assignment)),
        "oneroster/results.csv": table_bytes(_results(assignment, everybody)),
        "statements.jsonl": _statements(assignment, everybody),
    }


def _rows(assignment, everybody):
    head = ["id", "name", "state", "points", "of", "by hand", *(e.name for e in assignment.entries), "file", "sha256"]
    rows = [head]
    of = sum(entry.points for entry in assignment.entries)
    for one in everybody:
        each = ["" if mark.points is None else mark.points for mark in one.marks]
        who = one.person.id, one.person.name, one.state
        rows.append([*who, _points(one), of, " ".join(one.waiting), *each, one.file, one.digest])
    return rows


def _answers(everybody):
    """One line for each answer: what was given, what it was worth, and why; evidence for an appeal."""
    rows = [["id", "question", "answer", "confidence", "points", "of", "misconception", "feedback"]]
    for one in everybody:
        for mark in one.marks:
            given = "" if mark.answer is None else mark.answer
            answer = given if isinstance(given, (str, int, float)) else json.dumps(given, ensure_ascii=False)
            points = "" if mark.points is None else mark.points
            rows.append(
                [one.person.id, mark.name, answer, mark.confidence, points, mark.of, mark.misconception, mark.words]
            )
    return rows


def _by_name(assignment, everybody):
    rows = [["id", "name", f"{assignment.title} (points)", "feedback"]]
    for one in everybody:
        right, waits = sum(mark.right is True for mark in one.marks), len(one.waiting)
        words = f"{one.state}; {right} of {len(one.marks) - waits} right"
        words += f", {waits} not marked yet" if waits else ""
        rows.append([one.person.id, one.person.name, _cells(one)[0], words])
    return rows


def _cells(one):
    """Points for a platform, empty for who handed in nothing; the state, and how many questions wait."""
    return ["" if one.state == "missing" else _points(one), one.state, len(one.waiting)]


def _points(one):
    return round(one.points, 4)


def _workbook(title, *sheets):
    """Spreadsheet with one sheet a table, all text as text; its bytes follow from what is in it alone."""
    import openpyxl
    from openpyxl.utils import get_column_letter

    book = openpyxl.Workbook()
    book.remove(book.active)
    book.properties.created = book.properties.modified = datetime.datetime(*_FIXED)
    book.properties.creator, book.properties.title = "eyesim", _plain(title)
    for name, rows in zip(("gradebook", "answers"), sheets, strict=True):
        sheet = book.create_sheet(name)
        for i, row in enumerate(rows, 1):
            for j, value in enumerate(row, 1):
                cell = sheet.cell(i, j)
                if isinstance(value, str):
                    cell.value, cell.data_type = _plain(value), "s"
                else:
                    cell.value = value
        sheet.freeze_panes = "C2"
        for j, head in enumerate(rows[0], 1):
            sheet.column_dimensions[get_column_letter(j)].width = max(10, min(28, len(str(head)) + 3))
    file = io.BytesIO()
    book.save(file)
    return _without_times(file.getvalue())


def _plain(text):
    return "".join(c for c in text if c in "\n\t" or c.isprintable())[:32_000]


def _without_times(content):
    """Return the same archive with all its times fixed."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for info in old.infolist():
            inside = old.read(info)
            if info.filename == "docProps/core.xml":
                inside = _core(inside)
            new.writestr(zipfile.ZipInfo(info.filename, _FIXED), inside, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _core(xml):
    return re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>1980-01-01T00:00:00Z", xml)


# OneRoster 1.2, CSV binding (1EdTech): the columns in the order of the specification, from memory


_LINE_ITEM = """sourcedId status dateLastModified title description assignDate dueDate classSourcedId categorySourcedId
gradingPeriodSourcedId resultValueMin resultValueMax schoolSourcedId""".split()
_RESULT = """sourcedId status dateLastModified lineItemSourcedId studentSourcedId scoreStatus score scoreDate comment
textScore classSourcedId inProgress incomplete late missing""".split()


def _line_items(assignment):
    due = assignment.due.astimezone(datetime.UTC).strftime("%Y-%m-%d") if assignment.due else ""
    of = sum(entry.points for entry in assignment.entries)
    return [_LINE_ITEM, [_line(assignment), "", "", assignment.title, "", "", due, "", "", "", 0, of, ""]]


def _results(assignment, everybody):
    rows = [_RESULT]
    for one in everybody:
        missing, hand = one.state == "missing", bool(one.waiting)
        status = "not submitted" if missing else "partially graded" if hand else "fully graded"
        which = _digest("result", assignment.mark, one.person.id), "", "", _line(assignment), one.person.id
        score = "" if missing else _points(one), "" if one.when is None else one.when.strftime("%Y-%m-%d")
        flags = (str(flag).lower() for flag in (False, hand, one.state == "late", missing))
        rows.append([*which, status, *score, "", "", "", *flags])
    return rows


def _line(assignment):
    return f"eyesim-{assignment.mark}"


_VERB = {"id": "http://adlnet.gov/expapi/verbs/answered", "display": {"en": "answered"}}


def _statements(assignment, everybody):
    """One xAPI statement (IEEE 9274.1.1) for each answer, as JSON lines; actors are pseudonyms, times left out."""
    lines = []
    for one in everybody:
        if one.state == "missing":
            continue
        who = _digest("actor", assignment.seed, one.person.id)
        for mark in one.marks:
            if mark.answer is None:
                continue
            result = {"response": mark.answer if isinstance(mark.answer, str) else json.dumps(mark.answer)}
            if mark.share is not None:
                score = {"scaled": round(mark.share, 6), "raw": mark.points, "min": 0, "max": mark.of}
                result |= {"score": score, "success": mark.share >= 1.0, "completion": True}
            id = str(uuid.uuid5(_STATEMENTS, f"{assignment.mark} {one.digest} {one.person.id} {mark.name}"))
            actor = {"objectType": "Agent", "account": {"homePage": _HOME, "name": who}}
            about = {"type": "http://adlnet.gov/expapi/activities/question", "name": {"en": mark.name}}
            asked = {"objectType": "Activity", "id": f"urn:eyesim:{assignment.mark}:{mark.name}", "definition": about}
            lines.append({"id": id, "actor": actor, "verb": _VERB, "object": asked, "result": result})
    return "".join(json.dumps(line, ensure_ascii=False, sort_keys=True) + "\n" for line in lines).encode()


def _digest(*parts):
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:24]
