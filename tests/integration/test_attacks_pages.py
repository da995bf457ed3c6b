"""Markup, scripts and formulas in all that a learner can name or write: inert on every page."""

import csv
from html.parser import HTMLParser

import nbgrader.server_extensions.formgrader.handlers as form
import pytest
from nbconvert.exporters import HTMLExporter
from traitlets.config import Config

from coldbench.grading.export import export_marks
from coldbench.grading.feedback import write_class
from coldbench.grading.nbgrader_config import configure
from coldbench.grading.report import make_report
from coldbench.grading.report_html import write_report

HARMFUL = ("<script>PWNED</script>", "<img src=x onerror=PWNED>", "<svg onload=PWNED>",
           "<iframe srcdoc='<script>PWNED</script>'>", "[x](javascript:PWNED)",
           "![x](https://192.0.2.1/PWNED.png)", "<a href='javascript:PWNED'>x</a>",
           "<base href='https://192.0.2.1/PWNED'>", "<style>@import 'PWNED'</style>",
           "$\\href{javascript:PWNED}{x}$", "<form action='/formgrader/api/PWNED'><input name=score>",
           "<div style='position:fixed;inset:0;background:url(PWNED)'>full marks</div>",
           "```mermaid\ngraph TD; A[<img src=x onerror=PWNED>]\n```",
           "<math><mtext></form><mglyph><style></math><img src onerror=PWNED>",
           "| <b onclick=PWNED> |\n|:--|\n| x |", "`</code><b onclick=PWNED>`", "<!--", "]]>", "</pre>")
IDS = ("'\"><img src=x onerror=PWNED>", "=HYPERLINK(\"PWNED\")")
CODE = f"""
for text in {HARMFUL!r}:
    print(text)
from IPython.display import HTML, Image, Javascript, Markdown, SVG, display
display(HTML({HARMFUL[0]!r}), Javascript("PWNED"), Markdown({HARMFUL[1]!r}),
        {{"text/html": {HARMFUL[1]!r}, "text/plain": {HARMFUL[1]!r}}})
display({{"image/png": 'iVBORw0KGgo=" onerror="PWNED', "image/svg+xml": {HARMFUL[2]!r},
         "text/html": {HARMFUL[0]!r}, "application/javascript": "PWNED"}}, raw=True)
import json, os, stat
event = {{"cell": "answer-evaporating", "state": "ok", "outputs": [
    {{"kind": "display", "data": {{"text/html": {HARMFUL[0]!r}, "image/svg+xml": {HARMFUL[2]!r},
                                "text/plain": "forged \\x1b[31m\\x00"}}}},
    {{"kind": "stream", "name": {HARMFUL[0]!r}, "text": "\\x1b]0;PWNED\\x07"}}]}}
for number in range(3, 64):  # past the shell, straight to the grader
    try:
        if stat.S_ISFIFO(os.fstat(number).st_mode):
            os.write(number, json.dumps(event).encode() + b"\\n")
    except OSError:
        pass
raise type({HARMFUL[1]!r}, (Exception,), {{}})({HARMFUL[0]!r})
"""


def _is_inert(name: str, value: str) -> bool:
    """Words for the eye, and addresses of a page's own."""
    return (name in ("title", "alt", "aria-label", "id", "class", "data-link")
            or name == "href" and value.startswith(("#", "../feedback/%")))


class Reader(HTMLParser):
    """Finds the mark where a browser would act on it; what is only text stays."""

    def __init__(self):
        super().__init__()
        self.text, self.acted, self._inside = "", [], ""

    def handle_starttag(self, tag, attributes):
        self._inside = tag
        self.acted += [(tag, name, value) for name, value in attributes
                       if "PWNED" in f"{name}{value}" and not _is_inert(name, value or "")]

    def handle_endtag(self, tag):
        self._inside = ""

    def handle_data(self, data):
        if self._inside in ("script", "style") and "PWNED" in data:
            self.acted.append((self._inside, data[:80]))
        self.text += data


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    return reader


@pytest.fixture(scope="module")
def graded(new_desk, level):
    """Submissions with harmful text wherever there can be any, graded."""
    desk = new_desk()
    for learner in IDS:
        tree = desk.notebook({**desk.reference, "learner": f"LEARNER = {HARMFUL[1]!r}",
                              "answer-superheat": CODE,
                              "answer-evaporating": f"sheet.answer('evaporating temperature', "
                                                    f"{HARMFUL[1]!r})\nsheet.answer({HARMFUL[0]!r}, 5)",
                              "written": "\n\n".join(HARMFUL)})
        tree["cells"][2:2] = [
            {"cell_type": "markdown", "source": "\n\n".join(HARMFUL), "metadata": {
                "nbgrader": {"locked": True, "grade_id": HARMFUL[0]},
                "coldbench": {"role": "rubric"}, "tags": [HARMFUL[0]]},
             "attachments": {"x.svg": {"image/svg+xml": HARMFUL[2]}}}]
        desk.submit(learner, data=tree, files={"<img src=x onerror=PWNED>.txt": "x"})
        (desk.folder(learner) / "<b onclick=PWNED>").symlink_to("x")
    desk.grade(level)
    return desk


def form_page(desk, learner: str) -> str:
    """What nbgrader's form makes of a graded notebook."""
    settings = Config()
    configure(settings, desk.root)
    settings.HTMLExporter.template_name = "formgrade"
    settings.HTMLExporter.extra_template_basedirs = [form.template_path]
    notebook = desk.course.desk / "autograded" / learner / "small-lab" / "small-lab.ipynb"
    return HTMLExporter(config=settings).from_filename(str(notebook), resources={
        "submission_id": "1", "notebook_id": "small-lab", "assignment_id": "small-lab",
        "index": 0, "total": 1, "base_url": "", "student": learner,
        "notebook_path": f"./autograde/autograded/{learner}/small-lab/small-lab.ipynb"})[0]


def test_the_form_for_marking_by_hand_runs_nothing(graded):
    page = form_page(graded, IDS[0])
    found = read(page)
    assert found.acted == []
    assert found.text.count("<script>PWNED</script>") >= 3  # written, added, printed
    assert page.count("tex2jax_ignore") == 2  # written and added
    assert IDS[0] in found.text
    assert "<strong>Rubric (for the teacher)</strong>" in page


def test_feedback_and_report_run_nothing(graded):
    report = make_report(graded.course, "small-lab")
    pages = [*write_class(graded.course, "small-lab"), write_report(graded.course, report)]
    for path in pages:
        found = read(path.read_text("utf-8"))
        assert found.acted == [] and "PWNED" in found.text, path


def test_exports_hold_no_formula(graded, tmp_path):
    export_marks(graded.course, tmp_path / "marks.csv")
    with open(tmp_path / "marks.csv", encoding="utf-8", newline="") as stream:
        names = [row["learner"] for row in csv.DictReader(stream)]
    assert sorted(name.removeprefix("'") for name in names) == sorted(
        name.removeprefix("'") for name in IDS)
    assert not any(name.startswith(("=", "+", "-", "@")) for name in names)


def test_only_text_and_pictures_are_kept(graded):
    outputs = [output for cell in graded.graded_notebook(IDS[0])["cells"]
               for output in cell.get("outputs", [])]
    kinds = {kind for output in outputs for kind in output.get("data", {})}
    assert kinds == {"text/plain"} and len(outputs) > 5
    shown = graded.outputs(IDS[0])
    assert "forged" in shown and "\\u001b" not in shown and "\\u0000" not in shown
