"""A reading as a tester or a person writes it, for a test on a kind of line."""

from stagefloor.job.reading_text import SHOWN, figure_in, graver, word
from stagefloor.steps.closeout.line_tests import possible_tests

__all__ = ["SHOWN", "figure", "graver", "word"]


def figure(text: str, unit: str, test: str, kind: str) -> tuple[float | None, str]:
    """The figure in the unit of the test, or none and what the word means as a result.

    Parameters
    ----------
    unit : unit of the figure where the text has none; empty: the unit of the test
    test, kind : the test, and the kind of line that it is made on

    Raises
    ------
    Problem : the reason why this is no reading of that test
    """
    wanted = next((t.reading_in for t in possible_tests(kind) if t.test == test), "") or "ohm"
    return figure_in(text, unit, test, wanted)
