"""The `coldbench` command: one module per command, loaded only when it is called."""

from coldbench.cli.app import main

__all__ = ["main"]
