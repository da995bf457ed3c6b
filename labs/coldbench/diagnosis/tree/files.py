"""Fault trees in files: TOML, JSON, or Open-PSA XML, told apart by the file's ending."""

import json
import tomllib
from pathlib import Path

from coldbench.diagnosis.tree.model import Tree, tree_from
from coldbench.diagnosis.tree.open_psa import open_psa_text, read_open_psa
from coldbench.errors import InputError

ENDINGS = (".toml", ".json", ".xml", ".opsa")
MOST_BYTES = 5_000_000
EXAMPLES = Path(__file__).parent / "examples"


def read_tree(path: str | Path) -> Tree:
    """Read a fault tree.

    Parameters
    ----------
    path : str or Path
        File that ends in .toml or .json (as `tree_from` describes it), .xml or .opsa
        (Open-PSA); or the name of a shipped example.

    Returns
    -------
    Tree

    Raises
    ------
    InputError
        With file, name and reason.

    Examples
    --------
    >>> read_tree("pressure-tank").top
    'tank ruptures'
    """
    shipped = EXAMPLES / f"{path}.toml"
    path = shipped if shipped.is_file() else Path(path)
    text, where = _text(path), path.name
    if path.suffix in (".xml", ".opsa"):
        return read_open_psa(text, where)
    if path.suffix not in ENDINGS:
        raise InputError(f"{where}: ends in {path.suffix or 'nothing'!r}; accepted: "
                         f"{', '.join(ENDINGS)}, or an example: {', '.join(example_names())}")
    try:
        data = (json.loads(text, object_pairs_hook=_no_name_twice) if path.suffix == ".json"
                else tomllib.loads(text))
    except (ValueError, RecursionError) as error:
        raise InputError(f"{where}: not {path.suffix[1:].upper()}: {error}") from None
    return tree_from(data, where)


def example_names() -> list[str]:
    """Return the names of the shipped trees.

    Returns
    -------
    list of str

    Examples
    --------
    >>> "pressure-tank" in example_names()
    True
    """
    return sorted(path.stem for path in EXAMPLES.glob("*.toml"))


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError(f"{path.name}: larger than {MOST_BYTES // 1_000_000} MB")
        return path.read_text("utf-8-sig")
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror}; accepted: a file, or an "
                         f"example: {', '.join(example_names())}") from None
    except UnicodeDecodeError:
        raise InputError(f"{path.name}: not text in UTF-8") from None


def _no_name_twice(pairs: list) -> dict:
    found: dict = {}
    for name, value in pairs:
        if name in found:
            raise InputError(f"{name!r} stands twice in one table; each name may stand once")
        found[name] = value
    return found


def write_tree(tree: Tree, path: str | Path) -> None:
    """Write a fault tree as JSON (.json) or Open-PSA XML (.xml, .opsa).

    Parameters
    ----------
    tree : Tree
        Tree.
    path : str or Path
        File; its ending says the format.

    Raises
    ------
    InputError
        If the ending is another one.

    Examples
    --------
    >>> write_tree(read_tree("pressure-tank"), "tree.doc")
    Traceback (most recent call last):
    coldbench.errors.InputError: tree.doc: ends in '.doc'; accepted: .json, .xml, .opsa
    """
    path = Path(path)
    if path.suffix == ".json":
        text = json.dumps(plain_tree(tree), indent=1, ensure_ascii=False) + "\n"
    elif path.suffix in (".xml", ".opsa"):
        text = open_psa_text(tree)
    else:
        raise InputError(f"{path.name}: ends in {path.suffix!r}; accepted: .json, .xml, .opsa")
    path.write_text(text, "utf-8")


def plain_tree(tree: Tree) -> dict:
    """Return a fault tree as plain data, as `tree_from` reads it.

    Parameters
    ----------
    tree : Tree
        Tree.

    Returns
    -------
    dict

    Examples
    --------
    >>> tree = read_tree("pressure-tank")
    >>> tree_from(plain_tree(tree)) == tree
    True
    """
    gates = {name: {"kind": gate.kind, "inputs": list(gate.inputs)}
             | ({"k": gate.k} if gate.kind == "atleast" else {})
             for name, gate in tree.gates.items()}
    events = {name: "unknown" if p is None else p for name, p in tree.events.items()}
    return {"title": tree.title, "top": tree.top, "gate": gates, "event": events,
            "house": dict(tree.house)}
