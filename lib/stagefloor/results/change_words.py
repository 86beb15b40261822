"""A list of changes in a few plain sentences, for the office or for the site. Compares nothing itself."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from stagefloor.core.units import length_text, long_length_text
from stagefloor.core.words import counted
from stagefloor.results.changes import BOX, HOURS, ITEM, KINDS, LABEL, LINE, PRICE, RACEWAY, SITE, THERE, Change

SHORT = 70
FEW = 6  # named one by one in a sentence; the rest is in the table


@dataclass(frozen=True)
class Summary:
    """The list of changes in a few plain sentences; `rest` says how many there are of each kind."""

    sentences: tuple[str, ...]
    counts: Mapping[str, int] = field(default_factory=dict)


def summary(found: Sequence[Change], display: str, office: bool = True) -> Summary:
    """What changed, in the order of what matters.

    Parameters
    ----------
    display : units of lengths; office : False leaves out orders, hours, costs, prices and open items, for the site
    """
    kinds = KINDS if office else SITE
    counts = {k: len({c.key for c in found if c.kind == k}) for k in kinds}
    words = [*_lost_words(found), *_length_words(found, display), *_route_words(found), *_raceway_words(found),
             *_thing_words(found, LABEL, "label"), *_thing_words(found, BOX, "floor box or panel")]
    if office:
        words += [_amount_words(c) for c in found if c.kind in (HOURS, PRICE) and c.key in ("likely", "cautious", "total")]
        items = [c for c in found if c.kind == ITEM and c.aspect == THERE]
        for name, some in (("Open now", [c for c in items if c.came]), ("Open no more", [c for c in items if c.went])):
            told = [f"{c.subject} ({short(c.after or c.before)})" for c in some]
            words += [f"{name}: {_listed(told)}."] if told else []
    return Summary(tuple(words) or ("Nothing changes.",), {k: n for k, n in counts.items() if n})


def short(text: str) -> str:
    """The first words of a sentence, where the whole of it stands elsewhere."""
    first = text.split("; ")[0].split(": ")[-1] if text.startswith("Line ") else text.split("; ")[0]
    return first if len(first) <= SHORT else first[:SHORT].rsplit(" ", 1)[0] + " ..."


def _amount_words(c: Change) -> str:
    if c.came or c.went:
        return c.sentence()
    more = c.difference or 0.0
    by = f"{abs(more):,.2f}" + (" h" if c.kind == HOURS else "")
    return f"{c.subject}: {c.before} before, {c.after} after, {by} {'more' if more > 0 else 'less'}."


def _lost_words(found: Sequence[Change]) -> list[str]:
    """Lines that have no raceway any more, or have one now: their lengths are of another kind from then on."""
    known = [c for c in found if c.kind == LINE and c.aspect == "how the length is known"]
    lost = [c for c in known if (c.before, c.after) == ("routed", "rough")]  # a length that is typed says nothing of the way
    won = [c for c in known if (c.before, c.after) == ("rough", "routed")]
    words = []
    if lost:
        words.append(f"{len(lost)} {'line has' if len(lost) == 1 else 'lines have'} no raceway to the rack any more, and a "
                     f"rough length along a typical path: {_listed(c.subject for c in lost)}.")
    if won:
        words.append(f"{len(won)} {'line has' if len(won) == 1 else 'lines have'} a drawn way now: "
                     f"{_listed(c.subject for c in won)}.")
    return words


def _length_words(found: Sequence[Change], display: str) -> list[str]:
    lengths = [c for c in found if c.kind == LINE and c.aspect == "length" and c.difference is not None]
    words = []
    for name, some in (("longer", [c for c in lengths if (c.difference or 0) > 0]),
                       ("shorter", [c for c in lengths if (c.difference or 0) < 0])):
        if some:
            by = sorted(abs(c.difference or 0.0) for c in some)
            low, high = length_text(by[0], display), length_text(by[-1], display)
            each = f"by {low}" if low == high else f"by {low} to {high}"
            words.append(f"{len(some)} {'line gets' if len(some) == 1 else 'lines get'} {name}, {each}"
                         f", {long_length_text(sum(by), display)} in all.")
    came = [c for c in found if c.kind == LINE and c.aspect == THERE]
    words += [c.sentence() for c in came[:FEW]]
    missed = [c for c in found if c.kind == LINE and c.aspect == "limit"]
    return words + [f"{c.subject} at its own length: limit {c.before or 'not checked'} becomes {c.after or 'not checked'}."
                    for c in missed[:FEW]]


def _route_words(found: Sequence[Change]) -> list[str]:
    routes = [c for c in found if c.kind == LINE and c.aspect == "route"]
    return [f"{len(routes)} {'line takes' if len(routes) == 1 else 'lines take'} another route: "
            f"{_listed(c.subject for c in routes)}."] if routes else []


def _raceway_words(found: Sequence[Change]) -> list[str]:
    own = [c for c in found if c.kind == RACEWAY]
    words = [c.sentence() for c in own if c.aspect == THERE][:FEW]
    for state in dict.fromkeys(c.after for c in own if c.aspect == "state"):
        names = [c.subject for c in own if c.aspect == "state" and c.after == state]
        words.append(f"{state[:1].upper()}{state[1:]}: {_listed(names)}.")
    sizes = [f"{c.subject} {c.before or 'none'} to {c.after or 'none'}" for c in own if c.aspect == "size"]
    words += [f"Size: {_listed(sizes)}."] if sizes else []
    lengths = [c for c in found if c.kind == RACEWAY and c.aspect == "length"]
    if lengths:
        words.append(f"{len(lengths)} {'raceway changes' if len(lengths) == 1 else 'raceways change'} in length: "
                     f"{_listed(c.subject for c in lengths)}.")
    return words


def _thing_words(found: Sequence[Change], kind: str, noun: str) -> list[str]:
    some = [c for c in found if c.kind == kind]
    more = len(some) - FEW
    return [c.sentence() for c in some[:FEW]] + ([f"{counted(more, 'more change')} of a {noun}."] if more > 0 else [])


def _listed(names: Iterable[str]) -> str:
    all_names = list(names)
    return ", ".join(all_names[:FEW]) + (f" and {len(all_names) - FEW} more" if len(all_names) > FEW else "")
