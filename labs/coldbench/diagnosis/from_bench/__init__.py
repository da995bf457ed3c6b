"""Fault trees and orders of tests worked out from a bench, by simulating its faults.

`bench_problem` gives suspects, tests and outcomes of a complaint; `tree_from_bench` derives a
fault tree of single and double faults; `check_claims` tries a learner's cut sets at the bench.

    fingerprint, cache, table, work   what the bench shows under many faults, kept on disk
    complaint                         what is to be explained
    priors                            how likely each fault is
    instruments, classes              tests, and outcomes that instruments tell apart
    problem                           all of it as a test-sequencing problem
    stored                            a problem as plain data, for marking
    walk                              the best way to one fault, as done at a session
    pairs, derive                     fault trees of one fault and of two
    claims                            cut sets of a learner, tried at the bench
"""

from coldbench.diagnosis.from_bench.claims import Verdict, check_claims, claimed_cut_sets
from coldbench.diagnosis.from_bench.complaint import Complaint, complaint_of
from coldbench.diagnosis.from_bench.derive import BenchTree, tree_from_bench
from coldbench.diagnosis.from_bench.problem import BenchProblem, bench_problem
from coldbench.diagnosis.from_bench.stored import plain_problem, stored_problem
from coldbench.diagnosis.from_bench.table import Shown, ShownTable, differ, shown_table
from coldbench.diagnosis.from_bench.walk import Walk, best_walk, calls_of, follow

__all__ = ["BenchProblem", "BenchTree", "Complaint", "Shown", "ShownTable", "Verdict", "Walk",
           "bench_problem", "best_walk", "calls_of", "check_claims", "claimed_cut_sets",
           "complaint_of", "differ", "follow", "plain_problem", "shown_table", "stored_problem",
           "tree_from_bench"]
