"""`coldbench bench`: describe, check, draw and read whole benches.

A command of its own for each verb, in the module `bench_<verb>` of this folder.
"""

import importlib

import typer

VERBS = (
    "check",
    "faults",
    "new",
    "read",
    "seal",
    "show",
)

group = typer.Typer(
    name="bench",
    help="Describe, check, draw and read a whole bench.",
    no_args_is_help=True,
)
for _verb in VERBS:
    group.command(_verb)(importlib.import_module(f"coldbench.cli.bench_{_verb}").command)
