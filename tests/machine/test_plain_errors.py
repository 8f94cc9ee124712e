"""In a notebook, what cannot be is answered by the learner's line and one sentence; other faults keep their pages."""

import nbformat
from nbclient import NotebookClient

CELLS = (
    "import eyesim as es\nfrom eyesim import panel",
    "eye = es.Eye()\nes.refract(eye, es.Lens(), es.Pose(), pupil='3 mm')",
    "1 / 0",
    "'and on it goes'",
)


def test_a_learner_reads_the_line_and_the_sentence():
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(text) for text in CELLS])
    NotebookClient(book, allow_errors=True, timeout=120).execute()
    none, told, fault, after = (cell.outputs for cell in book.cells)
    assert not none
    line, sentence = told[0]["traceback"]
    assert line.startswith("In line 2 of this cell:  es.refract(eye")
    assert sentence == f"LearnerError: {told[0]['evalue']}"
    assert "0.2 to 8 mm" in sentence
    assert len(fault[0]["traceback"]) > 2
    assert after[0]["data"]["text/plain"] == "'and on it goes'"
