"""Outlines of an SVG drawing: its shapes as lines, curves flattened. Only shapes and their places are looked at."""

import io
from itertools import pairwise
from math import acos, ceil, hypot, isfinite, pi
from xml.etree.ElementTree import Element, tostring

import numpy as np
from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import ParseError, fromstring
from svgelements import SVG, Arc, Close, CubicBezier, Line, Move, QuadraticBezier, Shape

from stagefloor.core.problems import Problem
from stagefloor.job.exchange.outlines import FINENESS, MOST_POINTS, XY, Budget, Outlines, on_grid
from stagefloor.job.exchange.svg_plain import LINK, MOST_NESTED, NAMESPACE, plain_svg

MOST_ELEMENTS = 45_000  # what is unfolded costs a foreign reader 0.1 ms a part
MOST_OF_A_CURVE = 200  # points
NO_SVG = "is no SVG drawing that can be read, or it is cut off; save it as plain SVG again, or save the sheet as a PDF."
ENTITIES = "defines words of its own (entities), which are not read; save it as plain SVG, or save the sheet as a PDF."


def outlines(data: bytes, name: str) -> Outlines:
    """The outlines of an SVG drawing; a Problem if it is none, or unfolds to more than is read."""
    try:
        plain = plain_svg(fromstring(data, forbid_dtd=False, forbid_entities=True, forbid_external=True))
        if plain is None or plain.tag != "svg":
            raise Problem(f"{name} {NO_SVG}")
        _check_uses(plain, name)
        plain.set("xmlns", NAMESPACE)
        plain.set("xmlns:xlink", LINK[1:-5])
        found = SVG.parse(io.BytesIO(tostring(plain)), reify=True)
        return on_grid(_lines(found, name), name, down=True)
    except Problem:
        raise
    except DefusedXmlException:
        raise Problem(f"{name} {ENTITIES}") from None
    except (ParseError, Exception):  # a foreign reader on a foreign file: whatever it stumbles over, it can't be read
        raise Problem(f"{name} {NO_SVG}") from None


def _check_uses(root: Element, name: str) -> None:
    """A Problem if what is used again and again unfolds to more than is read: counted before anything is unfolded."""
    named = {f"#{e.get('id')}": e for e in root.iter() if e.get("id")}
    known: dict[Element, int] = {}

    def size(element: Element, within: tuple[Element, ...]) -> int:
        if element in within or len(within) > MOST_NESTED:
            raise Problem(f"{name} has a part that holds itself; it can't be unfolded. Save the sheet as a PDF.")
        if element not in known:
            inside = (*within, element)
            count = 1 + sum(size(child, inside) for child in element)
            link = element.get("xlink:href", "")
            known[element] = count + (size(named[link], inside) if link in named else 0)
        return known[element]

    Budget(name, MOST_ELEMENTS, "parts").spend(size(root, ()))


def _lines(found: SVG, name: str) -> list[list[XY]]:
    # with their transform: a rectangle or an ellipse that is turned keeps it to itself
    segments = [part for s in found.elements() if isinstance(s, Shape) for part in s.segments() if part.end is not None]
    corners = [p for segment in segments for p in _around(segment) if isfinite(p[0]) and isfinite(p[1])]
    if not corners:
        return []
    longest = max(max(p[axis] for p in corners) - min(p[axis] for p in corners) for axis in (0, 1))
    budget = Budget(name, MOST_POINTS, "points, curves flattened")
    lines: list[list[XY]] = []
    for segment in segments:
        if isinstance(segment, Move):
            lines.append([])
        elif lines and segment.start is not None:
            if not lines[-1]:
                lines[-1].append((segment.start.x, segment.start.y))
            points = _points(segment, longest / FINENESS)
            budget.spend(len(points))
            lines[-1] += points
    return lines


def _around(segment: Move | Line | Close | CubicBezier | QuadraticBezier | Arc) -> list[XY]:
    """Points that a part of a path lies between: its ends and controls; of an arc its ends and a square round its circle."""
    names = ("start", "control", "control1", "control2", "end")
    found = [(p.x, p.y) for p in (getattr(segment, name, None) for name in names) if p is not None]
    if isinstance(segment, Arc):
        (x, y), r = segment.center, _radius(segment)
        found += [(x - r, y - r), (x + r, y + r)]
    return found


def _radius(arc: Arc) -> float:
    return float(max(abs(arc.rx), abs(arc.ry)))


def _points(segment: Line | Close | CubicBezier | QuadraticBezier | Arc, fine: float) -> list[XY]:
    """The points of one part of a path after its first; a curve stays within about `fine` of its chords."""
    if isinstance(segment, Line | Close):
        return [(segment.end.x, segment.end.y)]
    if isinstance(segment, Arc):  # a chord over the angle a lies r (1 - cos a/2) off its arc
        chords = abs(segment.sweep) / (2 * acos(max(1 - fine / max(_radius(segment), fine), 0.5)))
    else:  # a curve no longer than its controls that turns by no more than a circle: s^2 / (8 n^2 r), r >= s / 2 pi
        around = _around(segment)
        length = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(around))
        chords = (pi * length / (4 * fine)) ** 0.5
    parts = np.linspace(0, 1, min(max(ceil(chords), 2), MOST_OF_A_CURVE) + 1)[1:]
    return [(float(x), float(y)) for x, y in segment.npoint(parts)]
