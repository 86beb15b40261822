"""The reel plan on published cutting-stock problems; lengths given as metres, whatever was printed."""

import pytest

from stagefloor.steps.reels import cut

WIDTHS = (1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200)
NUMBERS = (22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20)
CASES = (
    # Free encyclopedia, article on the cutting stock problem: 73 master rolls.
    (5.6, tuple(w / 1000 for w in WIDTHS), NUMBERS, 73),
    # Optimisation tutorial; answer computed: the lengths sum to 3532, and 3532 / 40 rounded up is 89.
    (40, (8, 12, 16, 20), (90, 111, 55, 30), 89),
    # Exercise of an operations-research textbook (25 ft stock); answer computed.
    (25, (7, 9, 11), (5000, 1200, 300), 2167),
)


@pytest.mark.parametrize(("stock", "lengths", "numbers", "printed"), CASES)
def test_as_many_reels_as_printed(
    stock: float, lengths: tuple[float, ...], numbers: tuple[int, ...], printed: int
) -> None:
    pieces = [(f"{x} no. {i}", x) for x, n in zip(lengths, numbers, strict=True) for i in range(n)]
    plan = cut(pieces, [("stock", stock, None)], 0.0, seconds=10)
    assert len(plan.reels) == printed
    assert plan.least_reels == printed and plan.proven
