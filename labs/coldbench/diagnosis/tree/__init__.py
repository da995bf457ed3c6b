"""Fault trees: what can cause an unwanted event, how likely it is, and what matters most.

`read_tree` reads a tree from TOML, JSON or the Open-PSA exchange format; `analyse` counts its
minimal cut sets, its probability and the importance of its events; `mocus` shows the cut sets
growing row by row; `compare` says in words where two trees differ.

Glossary: a *basic event* is a cause that is not broken down further; a *house event* is a
condition set true or false; a *cut set* is a set of basic events that together cause the top
event; it is *minimal* when no event can be left out.

Sources: IEC 61025:2006, Fault tree analysis; Vesely et al., Fault Tree Handbook, NUREG-0492, 1981.
"""

from coldbench.diagnosis.tree.analysis import Analysis, analyse
from coldbench.diagnosis.tree.common_cause import with_common_cause
from coldbench.diagnosis.tree.equivalence import Difference, compare
from coldbench.diagnosis.tree.files import read_tree, write_tree
from coldbench.diagnosis.tree.importance import DEFINITIONS, Importance
from coldbench.diagnosis.tree.mocus import mocus
from coldbench.diagnosis.tree.model import Gate, Tree, tree_from
from coldbench.diagnosis.tree.uncertainty import Spread, spread

__all__ = ["DEFINITIONS", "Analysis", "Difference", "Gate", "Importance", "Spread", "Tree",
           "analyse", "compare", "mocus", "read_tree", "spread", "tree_from", "with_common_cause",
           "write_tree"]
