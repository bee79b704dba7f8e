"""The strongly connected components are those of another program, on random graphs."""

import random

from steplatch.runner.proof.reachability import strong_parts


def test_the_parts_are_those_of_another_program() -> None:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    rng = random.Random(7)
    for _ in range(200):
        size = rng.randint(1, 40)
        edges = [(rng.randrange(size), rng.randrange(size)) for _ in range(rng.randint(0, 90))]
        leads: list[list[int]] = [[] for _ in range(size)]
        for one, other in edges:
            leads[one].append(other)
        come, go = zip(*edges, strict=True) if edges else ((), ())
        links = coo_array(([True] * len(edges), (come, go)), shape=(size, size))
        count, theirs = connected_components(links, connection="strong")
        ours = strong_parts(leads)
        assert len(set(zip(ours, theirs, strict=True))) == len(set(ours)) == count


def test_a_long_way_needs_no_deep_stack() -> None:
    assert len(set(strong_parts([[n + 1] for n in range(50_000)] + [[]]))) == 50_001
