"""The nearest place found by cells is the one that a look at every place finds."""

from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.steps.nearest import Nearest

SPAN = st.floats(-50, 50, allow_nan=False)
PLACES = st.lists(st.tuples(SPAN, SPAN, SPAN), min_size=1, max_size=60)


@settings(max_examples=150, deadline=None)
@given(PLACES, st.tuples(st.floats(-300, 300), st.floats(-300, 300), SPAN))
def test_as_a_look_at_every_place(places: list[tuple[float, float, float]], here: tuple[float, float, float]) -> None:
    def apart(n: int) -> float:
        return sum(abs(p - q) for p, q in zip(here, places[n], strict=True))

    found = Nearest(places).find(here)
    assert found is not None
    assert apart(found) == min(map(apart, range(len(places))))
    assert found == min(range(len(places)), key=lambda n: (apart(n), n))


def test_none_of_none_and_places_on_one_line() -> None:
    assert Nearest([]).find((0, 0, 0)) is None
    assert Nearest([(float(x), 0.0, 0.0) for x in range(1000)]).find((512.4, 9.0, 0.0)) == 512
    assert Nearest([(3.0, 3.0, 0.0)] * 4).find((0.0, 0.0, 0.0)) == 0
