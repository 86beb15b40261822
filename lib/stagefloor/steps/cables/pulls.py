"""Pulls: what is drawn in together between two pull points, its bends and length, and the tension from the better end.

Knows conduit only: into trunking, trays and free paths cables are laid, not pulled.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import copysign

from stagefloor.calculations.copper import gauge_area_m2
from stagefloor.calculations.pulling import Bend, Straight, copper_tension, either_end
from stagefloor.calculations.raceways import bends_between_pull_points
from stagefloor.core.open_items import CHECK, MEND, OpenItem
from stagefloor.core.units import FOOT, length_text
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.job.cables import CableType, Node, Segment
from stagefloor.job.model import Job
from stagefloor.reference.tables import fact
from stagefloor.steps.cables.dates import STRINGS
from stagefloor.steps.cables.lines import Line, one_a_cable
from stagefloor.steps.cables.raceways import LAID
from stagefloor.steps.paths import place_of, segment_length

ENDS = ("rack", "pull point", "other")  # at a bend or a wall opening nobody can pull
CONDUCTORS = {"video": 1, "data": 8}  # of one cable, where no limit is entered; others have a pair
RIGHT_ANGLE = 90.0


@dataclass(frozen=True)
class Pull:
    """One pull between two pull points.

    Attributes
    ----------
    segments : ids in order from the rack; name : the points it passes; cables : how many
    metres : length, m; degrees : sum of its bends; assumed : they are read off the nodes, nobody typed them
    bends : the sum against the most that is allowed; tension : from the better end, None while a mass is not known
    pull_at : the point that is the better end to pull at; missing : what is needed for the tension
    lengths : each raceway of it with its length, m
    """

    segments: tuple[str, ...]
    name: str
    signal_class: str
    cables: int
    metres: float
    degrees: float
    assumed: bool
    bends: Working
    tension: Working | None
    pull_at: str = ""
    missing: str = ""
    lengths: tuple[tuple[str, float], ...] = ()

    def length_working(self, display: str) -> Working:
        """The length of the pull, raceway by raceway, in the user's unit."""
        unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
        return Working(f"Length of the pull {self.name}, {self.signal_class}", "L = l1 + l2 + ...",
                       tuple(Value(f"l{i}", name, m * per, unit) for i, (name, m) in enumerate(self.lengths, 1)),
                       Value("L", "pull", self.metres * per, unit), (Basis("raceways of this job", JOB),))


def pulls(job: Job, known: Sequence[Line]) -> list[Pull]:
    """Every pull of the job with a new cable in it, in the order of the lines."""
    nodes, segments = {n.id: n for n in job.all(Node)}, {s.id: s for s in job.all(Segment)}
    inside: dict[tuple[tuple[str, ...], str], list[Line]] = {}
    parted: dict[int, list[tuple[str, ...]]] = {}  # lines of one box share a way
    for line in one_a_cable(known):
        if line.type is None or not line.type.assembly:
            if id(line.way) not in parted:
                parted[id(line.way)] = _runs(line.way.segments, segments, nodes)
            for run in parted[id(line.way)]:
                inside.setdefault((run, segments[run[0]].signal_class), []).append(line)
    return [_pull(job, run, cls, lines, segments, nodes) for (run, cls), lines in inside.items()]


def _runs(way: Sequence[str], segments: dict[str, Segment], nodes: dict[str, Node]) -> list[tuple[str, ...]]:
    """A way from the rack cut where a cable can be pulled or is laid in."""
    runs: list[tuple[str, ...]] = []
    now: list[str] = []
    for i, at in enumerate(way):
        s = segments.get(at)
        if s is None or s.way in LAID:
            runs += [tuple(now)] if now else []
            now = []
            continue
        now.append(at)
        following = segments.get(way[i + 1]) if i + 1 < len(way) else None
        shared = {s.start, s.end} & ({following.start, following.end} if following else set())
        between = nodes.get(next(iter(shared), ""))
        if between is None or between.what in ENDS:
            runs.append(tuple(now))
            now = []
    return [*runs, tuple(now)] if now else runs


def _pull(job: Job, run: tuple[str, ...], signal_class: str, lines: Sequence[Line], segments: dict[str, Segment],
          nodes: dict[str, Node]) -> Pull:
    parts, assumed, trail = _parts(job, [segments[i] for i in run], nodes)
    metres = sum(p.length_m for p in parts if isinstance(p, Straight))
    turned = [p.angle_deg for p in parts if isinstance(p, Bend)]
    edition = job.settings.edition if job.settings.edition in ("2017", "2020", "2023", "2026") else "2023"
    bends = bends_between_pull_points(turned, edition)
    masses = [line.type.mass.si if line.type and line.type.mass else 0.0 for line in lines]
    unknown = sorted({line.type.name if line.type else "a cable without a type"
                      for line, m in zip(lines, masses, strict=True) if not m})
    tension, at = None, ""
    if parts and not unknown:
        end, found = either_end(parts, sum(masses))
        at, feed = (trail[-1], trail[0]) if end == "far" else (trail[0], trail[-1])
        bears = _bears(lines)
        tension = replace(found, limit=Value("", "cables bear", bears, "N") if bears else None,
                          notes=(f"Fed at {feed}, pulled at {at}: the better end.", *found.notes))
    return Pull(run, "–".join(trail), signal_class, len(lines), metres, sum(turned), assumed, bends, tension, at,
                f"mass of {', '.join(unknown)}" if unknown else "",
                tuple((segments[i].name, segment_length(job, segments[i]) or 0.0) for i in run))


def _parts(job: Job, run: Sequence[Segment], nodes: dict[str, Node]) -> tuple[list[Straight | Bend], bool, list[str]]:
    """(straights and bends from the rack's end, whether bends are only read off the nodes, names of the points)."""
    at = _first(run)
    parts: list[Straight | Bend] = []
    trail, assumed, last = [nodes[at].name if at in nodes else "?"], False, -1
    for s in run:
        other = s.end if s.start == at else s.start
        moves, axes = _moves(job, s, nodes.get(at), nodes.get(other))
        typed = bool({"bends", "other_bends"} & s.model_fields_set)
        assumed = assumed or not typed
        if parts and axes and last >= 0 and axes[0] != last:
            parts.append(Bend(RIGHT_ANGLE))  # the way turns at a point where nobody can pull
        turns = [RIGHT_ANGLE] * s.bends + ([s.other_bends] if s.other_bends else []) if typed else \
            [RIGHT_ANGLE] * (len(moves) - 1)
        parts += _in_turn(moves, turns)
        last = axes[-1] if axes else -1
        at = other
        trail.append(nodes[at].name if at in nodes else "?")
    return parts, assumed, trail


def _first(run: Sequence[Segment]) -> str:
    """The node at which a run of raceways begins."""
    if len(run) == 1:
        return run[0].start
    return run[0].start if run[0].end in (run[1].start, run[1].end) else run[0].end


def _moves(job: Job, s: Segment, a: Node | None, b: Node | None) -> tuple[list[Straight], list[int]]:
    """The straights of a raceway along across, up and height, scaled to the length as measured; and their axes."""
    length = segment_length(job, s) or 0.0
    pa, pb = (place_of(a) if a else None), (place_of(b) if b else None)
    if pa is None or pb is None:
        return [Straight(length)], []
    steps = [(axis, q - p) for axis, (p, q) in enumerate(zip(pa, pb, strict=True)) if abs(q - p) > 1e-6]
    level = sum(abs(d) for axis, d in steps if axis < 2)
    rise = sum(abs(d) for axis, d in steps if axis == 2)
    if s.typed_length is not None and level and length > rise:
        scale = (length - rise) / level
        steps = [(axis, d * (scale if axis < 2 else 1.0)) for axis, d in steps]
    moves = [Straight(abs(d), 0.0 if axis < 2 else copysign(RIGHT_ANGLE, d)) for axis, d in steps]
    return moves or [Straight(length)], [axis for axis, _ in steps]


def _in_turn(moves: Sequence[Straight], turns: Sequence[float]) -> list[Straight | Bend]:
    """Straights and bends in turn: with more bends than corners the longest straight is parted, bend after bend."""
    straights = list(moves)
    while len(straights) <= len(turns):
        i = max(range(len(straights)), key=lambda k: straights[k].length_m)
        half = Straight(straights[i].length_m / 2, straights[i].slope_deg)
        straights[i:i + 1] = [half, half]
    found: list[Straight | Bend] = []
    for i, straight in enumerate(straights):
        found.append(straight)
        if i < len(turns):
            found.append(Bend(turns[i]))
    return found


def _bears(lines: Sequence[Line]) -> float | None:
    """What the cables bear together, N: the weakest one's limit times their number, shared evenly at best."""
    types = {line.type.id: line.type for line in lines if line.type is not None}
    each = [cable_bears(t) for t in types.values()]
    known = [limit for limit in each if limit is not None]
    return min(known) * len(lines) if known and len(known) == len(each) else None


def cable_bears(cable: CableType) -> float | None:
    """The pull that one cable bears, N: from its data sheet, else 110 N of four pairs, else by its copper."""
    if cable.pull_limit is not None:
        return float(cable.pull_limit.si)
    if cable.what == "data":
        return fact("pulling", "four_pair")["value"]
    if not cable.awg:
        return None
    return copper_tension(gauge_area_m2(cable.awg), CONDUCTORS.get(cable.what, 2)).result.amount


def pull_items(job: Job, found: Sequence[Pull]) -> list[OpenItem]:
    """Pulls with too many bends, too long, or with more tension than the cables bear; each asks for a pull point."""
    items = []
    s, display = job.settings, job.settings.units
    for p in found:
        subject, where = f"Pull {p.name} ({p.signal_class})", ("segment", p.segments[0])
        words = "as the nodes lie, nobody has counted them yet" if p.assumed else "as entered"
        if p.bends.holds is False or (not p.assumed and s.pull_degrees is not None and p.degrees > s.pull_degrees + 1e-9):
            broken = p.bends.holds is False and not p.assumed
            allowed = p.bends.limit.text() if p.bends.limit and p.bends.holds is False else f"{s.pull_degrees:g} deg"
            items.append(OpenItem(
                "pull-bends", "cables", subject, f"turns too far between two pull points, {words}",
                f"{p.degrees:g} deg of {allowed}", "; ".join(b.line() for b in p.bends.basis) if p.bends.holds is False
                else "this job's policy for bends between pull points", "a pull point in between, or fewer bends",
                MEND if broken else CHECK, STRINGS, where, workings=(p.bends,)))
        if s.pull_length is not None and p.metres > s.pull_length.si + 1e-9:
            items.append(OpenItem("pull-long", "cables", subject, "is long for one pull",
                                  f"{length_text(p.metres, display)} of {length_text(s.pull_length.si, display)}",
                                  "this job's policy for pulls (common practice, no source)", "a pull point in between",
                                  CHECK, STRINGS, where))
        if p.tension is not None and p.tension.holds is False:
            items.append(OpenItem("pull-tension", "cables", subject, "takes more tension than the cables bear, from the "
                                  "better end", p.tension.result.text() + (f" of {p.tension.limit.text()}"
                                                                           if p.tension.limit else ""),
                                  "; ".join(b.line() for b in p.tension.basis), "a pull point in between, lubricant with "
                                  "its own friction figure, or two pulls", MEND, STRINGS, where, workings=(p.tension,)))
    return items

