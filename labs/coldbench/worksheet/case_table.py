"""A learner's case as a table that notebooks and terminals can show."""

import html
from typing import Any

from coldbench.worksheet.cases import PRACTICE, Case, Given
from coldbench.worksheet.spelling import one_line

TO_TRY_OUT = " – numbers to try out: these are nobody's. Write your learner id to get your own."

# JupyterLab breaks printed lines inside words, and on paper long lines of code are cut off. This
# table stands in every lab, so the lab's page is put right here.
_LINES = "{white-space:pre-wrap;word-break:normal;overflow-wrap:break-word}"
PAGE_STYLE = (f".jp-OutputArea-output pre{_LINES}"
              f"@media print{{.jp-InputArea-editor pre{_LINES}"
              ".jp-RenderedMarkdown table{break-inside:avoid}"
              ".jp-RenderedMarkdown :is(h1,h2,h3,h4){break-after:avoid}}")


class CaseTable:
    """A learner's numbers: a table in a notebook, aligned lines in a terminal."""

    def __init__(self, learner: str, case: Case):
        self.learner, self.case = learner, case

    @property
    def _warning(self) -> str:
        """What nobody must overlook: practice numbers are marked as nobody's."""
        return TO_TRY_OUT if self.learner == PRACTICE else ""

    def __repr__(self) -> str:
        givens = self.case.givens
        labels = max((len(given.label) for given in givens), default=0)
        values = max((len(given.text) for given in givens), default=0)
        lines = [f"{given.label:<{labels}}  {given.text:>{values}}  case.{given.name}"
                 for given in givens]
        return "\n".join([f"Case of {one_line(self.learner)}{self._warning}", *lines])

    def _repr_html_(self) -> str:
        rows = "".join(map(_row, self.case.givens))
        numbers = any(_side(given) == "right" for given in self.case.givens)
        head = "".join(f"<th scope='col' style='text-align:{side}'>{words}</th>" for words, side in
                       (("Given", "left"), ("Value", "right" if numbers else "left"),
                        ("In code", "left")))
        return (f"<style>{PAGE_STYLE}</style><table><caption style='caption-side:top;text-align:left'>Case of "
                f"<strong>{html.escape(self.learner)}</strong>{self._warning}</caption>"
                f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>")


def _side(given: Given) -> str:
    """Numbers stand right, words left."""
    return "right" if isinstance(given.value, (int, float)) else "left"


def _row(given: Given) -> str:
    side = _side(given)
    return (f"<tr><th scope='row' style='text-align:left;font-weight:normal'>"
            f"{html.escape(given.label)}</th>"
            f"<td style='text-align:{side}'>{html.escape(_unbroken(given))}</td>"
            f"<td style='text-align:left'><code>case.{html.escape(given.name)}</code></td></tr>")


def _unbroken(given: Given) -> Any:
    """Keep a number and its unit on one line."""
    text = given.text
    return text.replace(" ", "\u00a0") if isinstance(given.value, (int, float)) else text
