"""Scoring the way a learner took from a complaint to a cause.

`score_path` compares a path with the best one from the same start; `mark_path` turns its score
into marks; `read_steps` makes steps of the measurements at a bench, `score_taken` does both.

    problem = bench_problem(load_bench("blue"), "warm air at every vent")
    score = score_taken(problem, session.taken, "undercharge")
    mark_path(score, right_part=True, right_mode=True).total

    steps       one step of a path
    reading     steps from what instruments showed
    again       what a use of an instrument would have shown under each suspect
    proof       which suspects readings leave, and whether the cause is proven
    score       minutes, regret, wasted steps
    words       what to tell the learner
    marking     shares of cause, proof and path, in one place
"""

from coldbench.diagnosis.journal.again import agreeing_suspects, taken_again
from coldbench.diagnosis.journal.marking import SHARES, PathMarks, Shares, mark_path
from coldbench.diagnosis.journal.proof import Proof, proof_of
from coldbench.diagnosis.journal.reading import read_step, read_steps, score_taken
from coldbench.diagnosis.journal.score import PathScore, score_path
from coldbench.diagnosis.journal.steps import PathStep

__all__ = ["SHARES", "PathMarks", "PathScore", "PathStep", "Proof", "Shares",
           "agreeing_suspects", "mark_path", "proof_of", "read_step", "read_steps", "score_path",
           "score_taken", "taken_again"]
