"""Nodal equations of a sparse network, eliminated node by node: the star–mesh transform.

Eliminating a node of a conductance network replaces its star of conductances by a mesh between
its neighbours. Conductances to ground are carried beside the diagonal instead of in it, so no
digit is lost between milliohms and teraohms (Grassmann, Taksar and Heyman's elimination of
diagonally dominant matrices, Operations Research 33, 1985).

A number may be one float, or an array over many cases with the same wiring: the same code then
solves all of them, with the same arithmetic.
"""

from dataclasses import dataclass

GROUND = -1
# a node with more neighbours waits, or its mesh would tie all the later ones
MOST_EARLY, MOST_MIDDLE = 2, 4


@dataclass(frozen=True)
class Plan:
    """Order of elimination, worked out once for a wiring.

    steps: for each node (node, neighbours ((node, slot), …), pairs ((p, q, slot), …)) where p and
    q count in neighbours; early: how many steps come first that no changing part touches; middle:
    how many until only the nodes are left whose parts change most often.
    """

    size: int
    slots: dict[tuple[int, int], int]
    steps: tuple
    early: int
    middle: int

    def slot(self, a: int, b: int) -> int:
        """Place of the conductance between two nodes."""
        return self.slots[(a, b) if a < b else (b, a)]


def make_plan(size: int, edges, late=(), last=()) -> Plan:
    """Order the elimination: fewest neighbours first, but nodes of `late` and `last` wait.

    Parameters: size, nodes without ground; edges, pairs of node numbers (GROUND is left out);
    late, nodes at changing parts; last, those of them at parts that change at every step.
    Returns: Plan.

    >>> make_plan(3, [(0, 1), (1, 2)]).size
    3
    """
    near = [set() for _ in range(size)]
    for a, b in edges:
        if a != b and a != GROUND and b != GROUND:
            near[a].add(b)
            near[b].add(a)
    slots: dict[tuple[int, int], int] = {}
    for a in range(size):
        for b in near[a]:
            if a < b:
                slots[a, b] = len(slots)
    late, last, steps, ends = set(late), set(last), [], []
    open_nodes = set(range(size)) - late - last
    for most, joining in ((MOST_EARLY, late - last), (MOST_MIDDLE, last), (size, set())):
        _eliminate_some(open_nodes, near, slots, steps, most)
        open_nodes |= joining
        ends.append(len(steps))
    return Plan(size, slots, tuple(steps), *ends[:2])


def _eliminate_some(nodes: set[int], near: list[set[int]], slots: dict, steps: list,
                    most: int) -> None:
    """Eliminate nodes on paper, as long as one has no more neighbours than `most`."""
    while (node := _next(nodes, near)) is not None and len(near[node]) <= most:
        nodes.remove(node)
        steps.append(_step(node, near, slots))


def _next(nodes: set[int], near: list[set[int]]) -> int | None:
    """The node with the fewest neighbours, or None."""
    return min(nodes, key=lambda n: (len(near[n]), n), default=None)


def _step(node: int, near: list[set[int]], slots: dict) -> tuple:
    """Eliminate one node on paper."""
    around = sorted(near[node])
    pairs = []
    for p, a in enumerate(around):
        near[a].discard(node)
        for q in range(p + 1, len(around)):
            b = around[q]
            near[a].add(b)
            near[b].add(a)
            pairs.append((p, q, slots.setdefault((a, b), len(slots))))
    stars = tuple((n, slots[(node, n) if node < n else (n, node)]) for n in around)
    return node, stars, tuple(pairs)


def eliminate(plan: Plan, mesh: list, earth: list, begin: int = 0, end: int | None = None) -> list:
    """Eliminate the nodes of steps begin to end; mesh and earth are changed in place.

    Parameters: mesh, conductance of each slot [S]; earth, conductance of each node to
    ground [S], above 0.
    Returns: for each step (share of each neighbour, 1/star conductance).

    >>> plan = make_plan(2, [(0, 1)])
    >>> factors = eliminate(plan, [1.0], [1.0, 1.0])
    >>> solve(plan, [1.0], factors, [2.0, 0.0])
    [1.3333333333333333, 0.6666666666666666]
    """
    factors = []
    for node, stars, pairs in plan.steps[begin:end]:
        own = earth[node]
        total = own
        for _, slot in stars:
            total = total + mesh[slot]
        inverse = 1.0 / total
        shares = [mesh[slot] * inverse for _, slot in stars]
        for (neighbour, _), share in zip(stars, shares, strict=True):
            earth[neighbour] = earth[neighbour] + share * own
        for p, q, slot in pairs:
            mesh[slot] = mesh[slot] + shares[p] * mesh[stars[q][1]]
        factors.append((shares, inverse))
    return factors


def forward(plan: Plan, factors: list, injected: list, begin: int = 0) -> None:
    """Carry injected currents [A] over the eliminated nodes, in place."""
    for (node, stars, _), (shares, _) in zip(plan.steps[begin:], factors, strict=False):
        own = injected[node]
        for (neighbour, _), share in zip(stars, shares, strict=True):
            injected[neighbour] = injected[neighbour] + share * own


def backward(plan: Plan, factors: list, injected: list, voltages: list, begin: int = 0) -> None:
    """Voltages [V] of the eliminated nodes from those of later ones, in place."""
    steps = plan.steps[begin:begin + len(factors)]
    for (node, stars, _), (shares, inverse) in zip(reversed(steps), reversed(factors),
                                                   strict=True):
        value = injected[node] * inverse
        for (neighbour, _), share in zip(stars, shares, strict=True):
            value = value + share * voltages[neighbour]
        voltages[node] = value


def solve(plan: Plan, mesh: list, factors: list, injected: list) -> list:
    """Node voltages [V] for injected currents [A] with all nodes eliminated."""
    injected = list(injected)
    voltages = [0.0] * plan.size
    forward(plan, factors, injected)
    backward(plan, factors, injected, voltages)
    return voltages
