"""Layers from left to right: against the geometry of the lines, and all orders of small layers."""

import random
from itertools import combinations, permutations

import pytest

from keyctl.lib.layers import Edge, Layers, Node, arrange, crossings


def some_graph(rng: random.Random, most: int = 4) -> tuple[list[Node], list[Edge]]:
    nodes = [
        Node(f"{layer}{place}", layer, "Thing", f"{layer}.{place}", is_rest=place == 3)
        for layer in range(3)
        for place in range(rng.randint(1, most))
    ]
    pairs = [(a.key, b.key) for a in nodes for b in nodes if b.layer == a.layer + 1]
    return nodes, [Edge(*pair) for pair in rng.sample(pairs, rng.randint(1, len(pairs)))]


def crossed(drawn: Layers) -> int:
    """Two lines between the same layers cross if their ends stand in opposite orders."""
    at = {each.node.key: each for each in drawn.nodes}
    lines = [(at[curve.edge.source], at[curve.edge.target]) for curve in drawn.curves]
    return sum(a.x == c.x and (a.y - c.y) * (b.y - d.y) < 0 for (a, b), (c, d) in combinations(lines, 2))


def placed_as(nodes: list[Node]) -> list[list[Node]]:
    return [[node for node in nodes if node.layer == layer] for layer in range(3)]


@pytest.mark.parametrize("seed", range(40))
def test_crossings_are_counted_as_the_geometry_has_them(seed: int) -> None:
    nodes, edges = some_graph(random.Random(seed), most=6)
    drawn = arrange(["a", "b", "c"], nodes, edges)
    order = [
        [e.node for e in sorted(drawn.nodes, key=lambda e: e.y) if e.node.layer == layer]
        for layer in range(3)
    ]
    assert crossings(order, edges) == crossed(drawn)


@pytest.mark.parametrize("seed", range(40))
def test_it_never_crosses_more_than_the_order_given(seed: int) -> None:
    nodes, edges = some_graph(random.Random(seed))
    assert crossed(arrange(["a", "b", "c"], nodes, edges)) <= crossings(placed_as(nodes), edges)


def test_two_layers_come_close_to_the_best_of_all_orders() -> None:
    """The barycentre rule is no proof of the least; over many small graphs it comes near."""
    rng, drawn, given, best = random.Random(3), 0, 0, 0
    for _ in range(60):
        nodes = [Node(f"{layer}{place}", layer, "", "") for layer in range(2) for place in range(4)]
        left, right = nodes[:4], nodes[4:]
        edges = [Edge(a.key, b.key) for a in left for b in right if rng.random() < 0.35]
        orders = [(a, b) for a in permutations(left) for b in permutations(right)]
        best += min(crossings(order, edges) for order in orders)
        given += crossings([left, right], edges)
        drawn += crossed(arrange(["a", "b"], nodes, edges))
    assert drawn - best <= (given - best) / 10


@pytest.mark.parametrize("seed", range(20))
def test_nothing_overlaps_or_leaves_the_picture_and_the_rest_stands_last(seed: int) -> None:
    nodes, edges = some_graph(random.Random(seed))
    drawn = arrange(["a", "b", "c"], nodes, edges)
    assert {each.node for each in drawn.nodes} == set(nodes)
    for one, two in combinations(drawn.nodes, 2):
        assert one.x != two.x or abs(one.y - two.y) > one.height
    for each in drawn.nodes:
        assert each.x >= 0
        assert each.x + each.width <= drawn.width
        assert each.y + each.height <= drawn.height
        same = [other.y for other in drawn.nodes if other.x == each.x]
        assert not each.node.is_rest or each.y == max(same)
