"""Words of the trade by the family of codes of a job: branch power, receptacle and ground in US jobs, mains, outlet and
earth elsewhere, and the spelling that goes with them.

The workbook says one vocabulary inside, and this at the edges where text leaves. What a user typed is never changed: it
is handed in, found whole in a text, and left out of the swap.
"""

import re
from collections.abc import Iterable
from functools import lru_cache
from html import escape, unescape

# Terms of NFPA 70 (2023) article 100 and of BS 7671:2018 part 2 / IEC 60050-826, as our own texts use them.
US = {
    "mains distribution panel": "panelboard", "mains panel": "panelboard", "mains outlet": "receptacle",
    "mains socket-outlet": "receptacle", "socket-outlet": "receptacle", "duplex or twin outlet": "duplex receptacle",
    "mains circuit": "branch circuit", "mains feeder": "power feeder", "mains load": "receptacle load",
    "mains bay": "power bay", "mains compartment": "power compartment", "mains part": "power part",
    "mains module": "power module", "mains place": "receptacle place", "mains box": "power box", "mains": "branch power",
    "protective earth": "equipment ground", "earthing": "grounding", "earthed": "grounded", "earth": "ground",
    "residual-current device": "GFCI", "colour": "color", "coloured": "colored", "labour": "labor", "fibre": "fiber",
    "centre": "center", "centred": "centered", "metre": "meter", "millimetre": "millimeter", "grey": "gray",
    "aluminium": "aluminum", "licence": "license", "labelled": "labeled", "labelling": "labeling", "unlabelled": "unlabeled",
    "programme": "program", "catalogue": "catalog", "levelled": "leveled"}
ELSEWHERE = {
    "branch circuit": "final circuit", "branch power": "mains", "duplex receptacle": "twin socket-outlet",
    "duplex or twin outlet": "twin socket-outlet", "receptacle": "outlet", "equipment ground": "protective earth",
    "grounding": "earthing", "grounded": "earthed", "panelboard": "distribution board", "GFCI": "RCD",
    "trade size": "size", "color": "colour"}
_TAG = re.compile(r"(<style\b.*?</style>|<script\b.*?</script>|<[^>]*>)", re.DOTALL | re.IGNORECASE)
_READ_OUT = re.compile(r'\b((?:title|alt|aria-label|placeholder|data-label)=")([^"]*)(")')
PARTS_KEPT = 20_000
QUOTED = r"(?<!\w)'[^']*'(?!\w)"  # not the apostrophe of a word


_Swaps = tuple[dict[str, str], re.Pattern[str]]


def _pairs(basis: str) -> dict[str, str]:
    terms = US if basis == "US" else ELSEWHERE
    plurals = {f"{a}s": f"{b}s" for a, b in terms.items() if not a.endswith(("s", "g", "ed"))}
    return {**terms, **plurals}


@lru_cache(maxsize=2)
def _swaps(basis: str) -> _Swaps:
    return _swapped(_pairs(basis))


@lru_cache(maxsize=1)
def _back() -> _Swaps:
    """The US words, each with the one of ours that stands first in the table."""
    return _swapped({b: a for a, b in reversed(_pairs("US").items())})


def _swapped(pairs: dict[str, str]) -> _Swaps:
    pairs = {a.lower(): b for a, b in pairs.items()}
    longest = sorted(pairs, key=len, reverse=True)
    return pairs, re.compile(rf"(?<![\w-])(?:{'|'.join(map(re.escape, longest))})(?![\w-])", re.IGNORECASE)


@lru_cache(maxsize=2)
def _stems(basis: str) -> tuple[str, ...]:
    """Some word of these stands in every text that a swap could change; looked for before anything slower."""
    first = {t.split()[0] for t in _swaps(basis)[0]}
    return tuple(w for w in first if not any(other in w for other in first - {w}))


@lru_cache(maxsize=1)
def _touching() -> re.Pattern[str]:
    """A text that holds a term, or that could make one with the word of ours before or behind it."""
    terms = {t for basis in ("US", "") for t in _swaps(basis)[0]}
    later = {w for t in terms for w in t.split()[1:]}
    first = {t.split()[0] for t in terms if " " in t}

    def any_of(words: set[str]) -> str:
        return "|".join(re.escape(w) for w in sorted(words, key=len, reverse=True))

    return re.compile(rf"(?<![\w-])(?:(?:{any_of(terms)})(?![\w-])|(?:{any_of(first)})$)|^(?:{any_of(later)})(?![\w-])",
                      re.IGNORECASE)


@lru_cache(maxsize=50_000)
def endangered(text: str) -> bool:
    """Whether a typed text could be changed by a swap that does not know it."""
    return _touching().search(text.strip()) is not None


def local(text: str, basis: str) -> str:
    """A text of our own in the words of a code basis ('US', else IEC and UK); a capital at its start is kept."""
    pairs, pattern = _swaps("US" if basis == "US" else "")

    def swap(match: re.Match[str]) -> str:
        word = pairs[match[0].lower()]
        return word[0].upper() + word[1:] if match[0][0].isupper() else word

    return pattern.sub(swap, text)


def own_word(text: str) -> str:
    """A name that the workbook gives, such as 'branch power requests', in its one vocabulary again."""
    pairs, pattern = _back()
    return pattern.sub(lambda m: pairs[m[0].lower()], text)


def several(noun: str) -> str:
    """The noun for more than one: floor boxes, dates of the job."""
    words = noun.split(" ")
    # what stands before such a word is what there are several of
    last = next((i for i, word in enumerate(words) if word in ("of", "for", "on", "by")), len(words)) - 1
    word = words[last]
    if word.endswith(("x", "ch", "s")):
        words[last] = word + "es"
    elif word.endswith("y") and word[-2:-1] not in "aeiou":
        words[last] = word[:-1] + "ies"
    else:
        words[last] = word + "s"
    return " ".join(words)


def counted(many: int, one: str) -> str:
    """A number of things in words: '1 cable', '2 cables'."""
    return f"{many:,} {one if many == 1 else several(one)}"


# Width and height of the papers that documents are printed on, m: ANSI/ASME Y14.1 size A, ISO 216 A4.
PAPERS = {"letter": (0.2159, 0.2794), "A4": (0.210, 0.297)}


def paper_of(basis: str) -> str:
    """The paper that documents are printed on, as a CSS page size."""
    return "letter" if basis == "US" else "A4"


class Words:
    """The words of one job.

    Parameters
    ----------
    basis : 'US', else IEC and UK
    typed : texts that users typed; they stay as they are wherever one stands whole in a text, and so does what stands
        between single quotes: our sentences quote so what was typed just now and is stored nowhere
    """

    def __init__(self, basis: str, typed: Iterable[str] = ()) -> None:
        self.basis = basis
        kept = sorted({t.strip() for t in typed if endangered(t)}, key=lambda t: (-len(t), t))
        self._own = _own_words("US" if basis == "US" else "", tuple(kept))

    @property
    def language(self) -> str:
        """The language tag of a page (BCP 47)."""
        return "en-US" if self.basis == "US" else "en-GB"

    @property
    def paper(self) -> str:
        """The paper that documents are printed on, as a CSS page size."""
        return paper_of(self.basis)

    def text(self, text: str) -> str:
        """A plain text, with typed texts in it or without."""
        return self._own.text(text)

    def html(self, page: str) -> str:
        """HTML or SVG: what is read and what a screen reader says; tags, styles and scripts stay."""
        return "".join(map(self._own.part, _TAG.split(page)))


class _Swapper:
    """What turns texts into those of one vocabulary; pages repeat themselves from edit to edit, and so parts are kept."""

    def __init__(self, basis: str, kept: tuple[str, ...]) -> None:
        self._basis, self._kept, self._stems = basis, kept, _stems(basis)
        self._parts: dict[str, str] = {}

    def text(self, text: str) -> str:
        low = text.lower()
        if not any(stem in low for stem in self._stems):
            return text
        typed = [rf"(?<!\w){re.escape(t)}(?!\w)" for t in self._kept if t in text]
        left = re.split(f"({'|'.join([*typed, QUOTED])})", text)
        return "".join(part if i % 2 else local(part, self._basis) for i, part in enumerate(left))

    def part(self, part: str) -> str:
        """A tag of a page, or what stands between two."""
        found = self._parts.get(part)
        if found is None:
            if len(self._parts) >= PARTS_KEPT:
                self._parts.clear()
            found = self._parts[part] = self._tag(part) if part[:1] == "<" else self._escaped(part)
        return found

    def _tag(self, tag: str) -> str:
        if tag[:6].lower() in ("<style", "<scrip"):
            return tag
        return _READ_OUT.sub(lambda m: m[1] + self._escaped(m[2]) + m[3], tag)

    def _escaped(self, part: str) -> str:
        plain = unescape(part)
        words = self.text(plain)
        return part if words == plain else escape(words)


_own_words = lru_cache(maxsize=8)(_Swapper)
