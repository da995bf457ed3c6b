"""Names of a bench's parts and wires, as a list to look them up in.

    print(bench_names("blue"))
"""

from collections.abc import Sequence

from coldbench.bench import Bench, load_bench

COLUMNS = 2


def bench_names(bench: str | Bench) -> str:
    """Return lines with each part and its label, then each wire and where it begins and ends.

    bench [name or Bench]. Wires stand in columns, to be read downwards. Raises InputError for a
    name that no bench has.

    >>> print(bench_names("blue").splitlines()[0])
    F1     Fuse, fan 1 and low speed
    """
    circuit = (load_bench(bench) if isinstance(bench, str) else bench).circuit
    parts = [f"{part.id:6} {part.label}" for part in circuit.parts.values()]
    wires = [f"{wire.id:5} {wire.start} – {wire.end}" for wire in circuit.wires.values()]
    return "\n".join([*parts, "", "Wires, from – to:", *in_columns(wires)])


def in_columns(items: Sequence[str], columns: int = COLUMNS) -> list[str]:
    """Set short texts in columns, downwards.

    >>> in_columns(["a", "b", "c"], 2)
    ['a  c', 'b']
    """
    tall = -(-len(items) // columns)
    wide = max(map(len, items), default=0) + 2
    return ["".join(f"{one:{wide}}" for one in items[row::tall]).rstrip()
            for row in range(tall)]
