"""The plane moved, turned and scaled without reflection: two points fix it. Knows no drawing."""

from cmath import phase, rect
from dataclasses import dataclass
from math import degrees, isfinite, radians


@dataclass(frozen=True)
class Similarity:
    """w = factor * z + shift, on points as complex numbers (x real, y imaginary): scale and turn are one factor."""

    factor: complex
    shift: complex

    def __call__(self, z: complex) -> complex:
        return self.factor * z + self.shift

    @property
    def scale(self) -> float:
        """What a length is multiplied by."""
        return abs(self.factor)

    @property
    def turn(self) -> float:
        """Counter-clockwise, degrees, over -180 up to 180."""
        return degrees(phase(self.factor))


def by_two_points(a: complex, b: complex, at: complex, to: complex) -> Similarity:
    """The similarity that takes a to `at` and b to `to`; ValueError unless both pairs are finite and apart.

    Source: a similarity of the plane that keeps its sense is z -> p z + q; two points and their images give p and q.
    """
    if a == b or at == to or not all(isfinite(v.real) and isfinite(v.imag) for v in (a, b, at, to)):
        raise ValueError("two points that are apart are needed on both sides")
    factor = (to - at) / (b - a)
    return Similarity(factor, at - factor * a)


def by_scale(scale: float, turn_deg: float, a: complex, at: complex) -> Similarity:
    """The similarity of a scale (above zero) and a turn (degrees, counter-clockwise) that takes a to `at`."""
    factor = rect(scale, radians(turn_deg))
    return Similarity(factor, at - factor * a)
