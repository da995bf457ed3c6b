"""The core of the Open-PSA model exchange format: fault trees in XML.

Read: fault trees with gates (and, or, atleast, nested ones too), basic events with a number,
house events with a constant, also in model-data. Anything else is refused with its name: a
tree must not quietly lose a part. Files with a document type are refused (they could hold
entities that swell).

Source: Open-PSA Model Exchange Format, version 2.0d (open format).
"""

from collections.abc import Iterator
from xml.etree import ElementTree

from coldbench.diagnosis.tree.model import Gate, Tree, check_tree
from coldbench.errors import InputError

_GATES = {"and": "and", "or": "or", "atleast": "atleast"}
_LINKS = ("gate", "basic-event", "house-event", "event")
_SILENT = ("label", "attributes")
_MOST_DIGITS = 6


def read_open_psa(text: str, where: str = "tree") -> Tree:
    """Read a fault tree from Open-PSA XML.

    Parameters
    ----------
    text : str
        XML.
    where : str
        File, for messages.

    Returns
    -------
    Tree
        Its top is the one gate that no other gate needs.

    Raises
    ------
    InputError
        With file, name and reason.

    Source: Open-PSA Model Exchange Format 2.0d.

    Examples
    --------
    >>> tree = read_open_psa('''<opsa-mef><define-fault-tree name="t">
    ...   <define-gate name="top"><and><basic-event name="a"/><basic-event name="b"/></and>
    ...   </define-gate><define-basic-event name="a"><float value="0.1"/></define-basic-event>
    ...   </define-fault-tree></opsa-mef>''')
    >>> tree.gates["top"].inputs, dict(tree.events)
    (('a', 'b'), {'a': 0.1, 'b': None})
    """
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise InputError(f"{where}: holds a document type; remove the <!DOCTYPE …> line")
    try:
        root = ElementTree.fromstring(text)
    except ElementTree.ParseError as error:
        raise InputError(f"{where}: not well-formed XML: {error}") from None
    if root.tag != "opsa-mef":
        raise InputError(f"{where}: starts with <{root.tag}>; an Open-PSA file starts with "
                         "<opsa-mef>")
    reader = _Reader(where, root)
    try:
        reader.container(root)
    except RecursionError:
        raise reader.fail("is nested too deep; give inner gates names of their own") from None
    return reader.tree()


class _Reader:
    """What has been read so far."""

    def __init__(self, where: str, root: ElementTree.Element) -> None:
        self.where, self.title = where, ""
        self.taken = {(element.get("name") or "").strip() for element in root.iter()}
        self.gates: dict[str, Gate] = {}
        self.events: dict[str, float | None] = {}
        self.house: dict[str, bool] = {}
        self.links: dict[str, str] = {}

    def fail(self, reason: str) -> InputError:
        return InputError(f"{self.where}: {reason}")

    def name(self, element: ElementTree.Element) -> str:
        found = (element.get("name") or "").strip()
        if not found:
            raise self.fail(f"a <{element.tag}> has no name")
        return found

    def container(self, parent: ElementTree.Element) -> None:
        for element in parent:
            if element.tag in ("define-fault-tree", "define-component", "model-data"):
                self.title = self.title or element.get("name", "")
                self.container(element)
            elif element.tag == "define-gate":
                self.define_gate(element)
            elif element.tag == "define-basic-event":
                self.define(self.events, element, self.number(element))
            elif element.tag == "define-house-event":
                self.define(self.house, element, self.constant(element))
            elif element.tag not in _SILENT:
                raise self.fail(f"<{element.tag}> is not read; accepted: fault trees with gates, "
                                "basic events and house events")

    def define(self, table: dict, element: ElementTree.Element, value: object) -> None:
        name = self.name(element)
        if name in table:
            raise self.fail(f"{name!r} is defined twice")
        table[name] = value

    def number(self, element: ElementTree.Element) -> float | None:
        parts = [child for child in element if child.tag not in _SILENT]
        if not parts:
            return None
        if len(parts) > 1 or parts[0].tag not in ("float", "int"):
            raise self.fail(f"basic event {self.name(element)!r}: <{parts[0].tag}> is not read; "
                            "accepted: one <float value=…/>")
        try:
            value = float(parts[0].get("value", ""))
        except ValueError:
            value = -1.0
        if not 0.0 <= value <= 1.0:
            raise self.fail(f"probability of event {self.name(element)!r} is "
                            f"{parts[0].get('value')!r}; accepted: 0 to 1")
        return value

    def constant(self, element: ElementTree.Element) -> bool:
        found = element.find("constant")
        value = None if found is None else found.get("value")
        if value not in ("true", "false"):
            raise self.fail(f"house event {self.name(element)!r} needs <constant value=\"true\"/> "
                            "or \"false\"")
        return value == "true"

    def define_gate(self, element: ElementTree.Element) -> None:
        name = self.name(element)
        if name in self.gates:
            raise self.fail(f"{name!r} is defined twice")
        formulas = [child for child in element if child.tag not in _SILENT]
        if len(formulas) != 1:
            raise self.fail(f"gate {name!r}: has {len(formulas)} formulas; accepted: one")
        formula = formulas[0]
        if formula.tag in _GATES:
            self.gates[name] = self.gate(name, formula)
        else:  # a gate that only passes on
            self.gates[name] = Gate("or", (self.input(name, formula, 1),))

    def gate(self, name: str, formula: ElementTree.Element) -> Gate:
        inputs = [self.input(name, child, i) for i, child in enumerate(formula, start=1)]
        if formula.tag != "atleast":
            return Gate(formula.tag, tuple(dict.fromkeys(inputs)))
        k = formula.get("min", "")
        if not (k.isdecimal() and len(k) <= _MOST_DIGITS):
            raise self.fail(f"gate {name!r}: <atleast> needs min, a whole number")
        return Gate("atleast", tuple(inputs), int(k))

    def input(self, gate: str, element: ElementTree.Element, place: int) -> str:
        if element.tag in _LINKS:
            name = self.name(element)
            kind = element.get("type", element.tag) if element.tag == "event" else element.tag
            self.links.setdefault(name, kind)
            return name
        if element.tag in _GATES:
            inner = f"{gate}/{place}"
            while inner in self.taken:  # a name that the file gives to something else
                inner += "'"
            self.taken.add(inner)
            self.gates[inner] = self.gate(inner, element)
            return inner
        raise self.fail(f"gate {gate!r}: <{element.tag}> is not read; accepted: and, or, atleast, "
                        "gates and events")

    def tree(self) -> Tree:
        for name, kind in self.links.items():  # a basic event may be used without a definition
            known = name in self.gates or name in self.events or name in self.house
            if not known and kind in ("basic-event", "event"):
                self.events[name] = None
        inner = {child for gate in self.gates.values() for child in gate.inputs}
        tops = [name for name in self.gates if name not in inner]
        if len(tops) != 1:
            raise self.fail(f"has {len(tops)} gates that no other gate needs "
                            f"({', '.join(tops[:4]) or 'none'}); a tree has one top")
        tree = Tree(tops[0], self.gates, self.events, self.house, self.title)
        check_tree(tree, self.where)
        return tree


def open_psa_text(tree: Tree) -> str:
    """Return a fault tree as Open-PSA XML.

    Gates that are not under the top event are left out: in this format the top is the gate that
    no other needs.

    Parameters
    ----------
    tree : Tree
        Tree.

    Returns
    -------
    str
        XML that `read_open_psa` reads back to the same tree.

    Source: Open-PSA Model Exchange Format 2.0d.

    Examples
    --------
    >>> tree = Tree("t", {"t": Gate("or", ("a",))}, {"a": 0.5})
    >>> read_open_psa(open_psa_text(tree)).events
    {'a': 0.5}
    """
    root = ElementTree.Element("opsa-mef")
    body = ElementTree.SubElement(root, "define-fault-tree", name=tree.title or tree.top)
    for name in reversed(tree.order):
        gate = tree.gates[name]
        defined = ElementTree.SubElement(body, "define-gate", name=name)
        minimum = {"min": str(gate.k)} if gate.kind == "atleast" else {}
        formula = ElementTree.SubElement(defined, gate.kind, minimum)
        for kind, child in _typed(tree, gate):
            ElementTree.SubElement(formula, kind, name=child)
    data = ElementTree.SubElement(root, "model-data")
    for name, p in tree.events.items():
        event = ElementTree.SubElement(data, "define-basic-event", name=name)
        if p is not None:
            ElementTree.SubElement(event, "float", value=repr(p))
    for name, value in tree.house.items():
        event = ElementTree.SubElement(data, "define-house-event", name=name)
        ElementTree.SubElement(event, "constant", value=str(value).lower())
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="unicode") + "\n"


def _typed(tree: Tree, gate: Gate) -> Iterator[tuple[str, str]]:
    for child in gate.inputs:
        kind = ("gate" if child in tree.gates
                else "house-event" if child in tree.house else "basic-event")
        yield kind, child
