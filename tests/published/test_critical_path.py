"""The critical path against published networks, and against the longest path of an independent graph library."""

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.core.problems import Problem
from stagefloor.steps.labour.network import Activity, times


def network(text: str) -> list[Activity]:
    """From 'A2; B10(A)', as the sources print it."""
    found = []
    for word in text.split("; "):
        head, _, after = word.rstrip(")").partition("(")
        found.append(Activity(head[0], float(head[1:]), tuple(a for a in after.split(",") if a)))
    return found


LECTURE = ("A2; B10(A); C13(A); D12(A); E12(B); F7(B); G10(D); H16(D); I6(F); J12(C,G); K5(I); L8(E,K); M5(H); "
           "N3(J,L,M)")
HANDOUT = "A5; B4; C3(A); D7(B); E2(C); F1(D,E)"


def test_a_lecture_page_on_the_critical_path_method():
    """41 days, critical A-B-F-I-K-L-N (published); floats E 6, C 11, D 2, G 2, J 2, H 3, M 3 (from its path sums)."""
    found = times(network(LECTURE))
    assert found["N"].early_finish == 41
    assert {n for n, t in found.items() if t.critical} == set("ABFIKLN")
    floats = {"E": 6, "C": 11, "D": 2, "G": 2, "J": 2, "H": 3, "M": 3}
    assert {n: t.total_float for n, t in found.items() if not t.critical} == floats


def test_a_course_handout():
    """12 days, B-D-F critical, float 1 on A, C and E (worked by hand from the handout's data)."""
    found = times(network(HANDOUT))
    assert max(t.early_finish for t in found.values()) == 12
    assert {n for n, t in found.items() if t.critical} == set("BDF")
    assert {found[n].total_float for n in "ACE"} == {1}


def test_a_textbook_path_of_expected_times():
    """Project-management textbook: expected times 9, 10, 5, 3, 6, 3, 4; critical path 1-3-5-7 of 24 days."""
    days = dict(zip("1234567", (9, 10, 5, 3, 6, 3, 4), strict=True))
    after = {"1": "", "2": "", "3": "1", "4": "2", "5": "3", "6": "4", "7": "56"}  # two chains that meet in 7
    found = times([Activity(n, d, tuple(after[n])) for n, d in days.items()])
    assert found["7"].early_finish == 24
    assert [n for n in "1357" if found[n].critical] == list("1357")


@st.composite
def networks(draw) -> list[Activity]:
    size = draw(st.integers(1, 14))
    return [Activity(str(i), draw(st.integers(0, 20)) / 4,
                     tuple(str(j) for j in range(i) if draw(st.integers(0, 3)) == 0), draw(st.booleans()))
            for i in range(size)]


@settings(max_examples=80, deadline=None)
@given(networks())
def test_any_network_against_the_longest_path_of_networkx(activities):
    """Days of an activity stand on the edges to its followers; networkx finds the longest way by itself."""
    graph = nx.DiGraph()
    for a in activities:
        graph.add_edge("start", a.name, weight=0.0)
        graph.add_edge(a.name, "end", weight=a.days)
        for p in a.after:
            graph.add_edge(p, a.name, weight=next(x.days for x in activities if x.name == p))
    found = times(activities)
    longest = nx.dag_longest_path_length(graph)
    assert max(t.early_finish for t in found.values()) == pytest.approx(longest)
    for a in activities:
        before = graph.subgraph({a.name} | nx.ancestors(graph, a.name))
        after = graph.subgraph({a.name} | nx.descendants(graph, a.name))
        through = nx.dag_longest_path_length(before) + nx.dag_longest_path_length(after)
        assert found[a.name].total_float == pytest.approx(longest - through)  # what its longest way lacks
        assert found[a.name].free_float <= found[a.name].total_float + 1e-9


@settings(max_examples=80, deadline=None)
@given(networks())
def test_one_crew_does_one_thing_at_a_time(activities):
    found = times(activities)
    mine = sorted((found[a.name] for a in activities if a.crew and a.days), key=lambda t: t.start)
    assert all(x.finish <= y.start + 1e-9 for x, y in zip(mine, mine[1:], strict=False))
    for a in activities:
        assert all(found[p].finish <= found[a.name].start + 1e-9 for p in a.after)
        assert found[a.name].start >= found[a.name].early_start - 1e-9


@settings(max_examples=80, deadline=None)
@given(networks())
def test_what_may_slip_with_one_crew_against_the_longest_path_of_networkx(activities):
    """The crew's own order stands as further edges; what the longest way through a step lacks of the end is its slip."""
    found, days = times(activities), {a.name: a.days for a in activities}
    graph = nx.DiGraph()
    for a in activities:
        graph.add_edge("start", a.name, weight=0.0)
        graph.add_edge(a.name, "end", weight=a.days)
        graph.add_edges_from(((p, a.name) for p in a.after), weight=0.0)
    crew = sorted((found[a.name] for a in activities if a.crew and a.days), key=lambda t: t.start)
    graph.add_edges_from(((x.name, y.name) for x, y in zip(crew, crew[1:], strict=False)), weight=0.0)
    for x, y in graph.edges:
        graph.edges[x, y]["weight"] = days.get(x, 0.0)
    end = max(t.finish for t in found.values())
    assert nx.dag_longest_path_length(graph) == pytest.approx(end)
    for a in activities:
        before = graph.subgraph({a.name} | nx.ancestors(graph, a.name))
        after = graph.subgraph({a.name} | nx.descendants(graph, a.name))
        through = nx.dag_longest_path_length(before) + nx.dag_longest_path_length(after)
        assert found[a.name].slip == pytest.approx(end - through, abs=1e-9)
        assert found[a.name].slip >= 0


def test_with_one_crew_a_step_beside_the_critical_path_may_not_slip():
    """Three and one day side by side, then two: by hand, 5 days by dependencies and B floats 2; one crew takes 6, no slip.

    If others do B, it may wait until day 2 of three: slip 2 again.
    """
    for crew, end, slip in ((True, 6, 0), (False, 5, 2)):
        found = times([Activity("A", 3), Activity("B", 1, crew=crew), Activity("C", 2, ("A", "B"))])
        assert found["B"].total_float == 2
        assert (found["C"].finish, found["B"].slip) == (end, slip)


@pytest.mark.parametrize(("text", "words"), [
    ("A1(B); B1(A)", "wait for each other"), ("A1(X)", "not a step"), ("A1; A2", "Two steps"), ("A-1", "below zero")])
def test_a_network_that_cannot_be_is_asked_back(text, words):
    with pytest.raises(Problem, match=words):
        times(network(text))
