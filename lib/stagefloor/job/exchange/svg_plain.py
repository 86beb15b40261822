"""An SVG drawing made plain: shapes and their places only, each viewport within another one as a group with its transform.

Viewports: SVG 2, 8.2 (the equivalent transform) and 5.5, 5.6 (symbol, use); what lies beyond the edge of one is not cut off.
What is hidden: CSS display and visibility, from attributes, `style`, and rules for one element, class or id.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import hypot, isfinite
from xml.etree.ElementTree import Element

MOST_NESTED = 100
NAMESPACE, LINK = "http://www.w3.org/2000/svg", "{http://www.w3.org/1999/xlink}href"
SHAPES = {"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"}
GROUPS = {"svg", "g", "a", "use", "defs", "symbol"}
# what says where a shape is, and nothing else
PLACES = {"d", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry", "width", "height", "points", "transform",
          "viewBox", "preserveAspectRatio", "id"}
ACROSS, UP = {"x", "x1", "x2", "cx", "rx", "width"}, {"y", "y1", "y2", "cy", "ry", "height"}
NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)(px|in|cm|mm|pt|pc|em|%)?")
POINTS = {None: 1.0, "px": 1.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4, "pt": 96 / 72, "pc": 16.0, "em": 16.0}
RULE = re.compile(r"(\*|[a-zA-Z]*)([.#][\w-]+)?")  # selectors of one element that can be looked up
Size = tuple[float, float]  # of a viewport, in the units within it


@dataclass
class Hidden:
    """CSS rules of a drawing that hide or show: selector -> property -> (specificity and order, value)."""

    rules: dict[str, dict[str, tuple[tuple[int, int], str]]] = field(default_factory=dict)
    read_so_far: int = 0

    def read(self, css: str) -> None:
        """Take in the rules of one style sheet; those within an at-rule such as @media are left out."""
        first, *rest = css.split("/*")
        within = False
        for part in (first + "".join(p.partition("*/")[2] for p in rest)).split("}"):
            opened = part.count("{")
            within = (within or opened > 1) and opened > 0
            if within or not opened:
                continue
            selectors, _, body = part.partition("{")
            said = {k: v for k, v in declarations(body).items() if k in ("display", "visibility")}
            for one in selectors.rpartition(";")[2].split(",") if said else ():
                self._add(one.strip(), said)

    def _add(self, selector: str, said: Mapping[str, str]) -> None:
        match = RULE.fullmatch(selector)
        if not selector or match is None:
            return
        named, mark = match[1].strip("*"), match[2] or ""
        weight = bool(named) + 10 * mark.startswith(".") + 100 * mark.startswith("#")
        rule = self.rules.setdefault(named + mark, {})
        self.read_so_far += 1
        for key, value in said.items():
            rank = (weight, self.read_so_far)
            if key not in rule or rank >= rule[key][0]:
                rule[key] = rank, value

    def of(self, kind: str, attributes: Mapping[str, str], key: str) -> str:
        """The value of 'display' or 'visibility' that an element itself is given; empty: none."""
        style = declarations(attributes.get("style", "")).get(key)
        if style is not None:
            return style
        marks = [f".{c}" for c in attributes.get("class", "").split()] + [f"#{attributes.get('id', '')}", ""]
        found = [self.rules[s][key] for m in marks for s in (m, kind + m) if key in self.rules.get(s, {})]
        return max(found)[1] if found else attributes.get(key, "").strip().lower()


def declarations(text: str) -> dict[str, str]:
    """Property -> value of a `style`, both in small letters."""
    parts = (part.partition(":") for part in text.split(";"))
    return {k.strip().lower(): v.strip().lower().removesuffix("!important").rstrip() for k, _, v in parts}


def plain_svg(root: Element) -> Element | None:
    """The drawing with its shapes and places only: no script, style, text, picture, link to elsewhere, event; None if it
    is none, or hidden whole. A ValueError if it is nested too deeply."""
    if _kind(root) != "svg":
        return None
    hidden = Hidden()
    symbols: dict[str, Element] = {}
    for element in root.iter():
        kind = _kind(element)
        if kind == "style" and element.get("media", "all") in ("", "all", "screen"):
            hidden.read("".join(element.itertext()))
        elif kind == "symbol" and element.get("id"):
            symbols.setdefault(f"#{element.get('id')}", element)
    box = _view_box(root)
    size = box[2:] if box else (_length(root, "width", 0.0, 300.0), _length(root, "height", 0.0, 150.0))  # CSS 2.1, 10.3.2
    return _Plain(hidden, symbols).of(root, 0, size, unseen=False)


@dataclass(frozen=True)
class _Plain:
    hidden: Hidden
    symbols: Mapping[str, Element]

    def of(self, element: Element, depth: int, size: Size, *, unseen: bool) -> Element | None:
        """The element made plain. `size`: of the viewport around it; `unseen`: whether what holds it is not visible."""
        kind = _kind(element)
        if depth > MOST_NESTED:
            raise ValueError("nested too deeply")
        if kind not in SHAPES | GROUPS:
            return None
        if kind in ("defs", "symbol"):
            unseen = False  # it is shown where it is used, and goes with that place
        said = self.hidden.of(kind, element.attrib, "visibility")
        unseen = said in ("hidden", "collapse") if said in ("visible", "hidden", "collapse") else unseen
        if self.hidden.of(kind, element.attrib, "display") == "none" and kind != "symbol":
            # not shown here; a part of it may be used elsewhere
            return _kept(self._children(element, depth, size, unseen=unseen)) if kind != "use" else None
        if kind == "use":
            return None if unseen else self._use(element, size)
        plain = Element("g" if kind in ("a", "symbol") or (kind == "svg" and depth) else kind, _places(element, size))
        if kind in SHAPES:
            return plain if not unseen else _kept([plain]) if plain.get("id") else None
        if kind in ("svg", "symbol"):
            for name in ("x", "y", "width", "height", "viewBox", "preserveAspectRatio") if depth else ():
                plain.attrib.pop(name, None)
            within = _within(element, size) if depth else (size, "")
            if within is None:
                return None
            size, transform = within
            if kind == "svg" and depth:
                plain.set("transform", f"{element.get('transform', '')} {transform}")
        plain.extend(self._children(element, depth, size, unseen=unseen))
        return _kept([plain]) if kind == "symbol" else plain

    def _children(self, element: Element, depth: int, size: Size, *, unseen: bool) -> Iterator[Element]:
        for child in element:
            made = self.of(child, depth + 1, size, unseen=unseen)
            if made is not None:
                yield made

    def _use(self, element: Element, size: Size) -> Element:
        link = element.get("href") or element.get(LINK) or ""
        plain = Element("use", {"xlink:href": link} if link.startswith("#") else {})
        symbol = self.symbols.get(link)
        if symbol is None:
            plain.attrib.update({k: v for k, v in _places(element, size).items() if k not in ("width", "height")})
            return plain
        within = _within(symbol, size, element)
        group = Element("g", {"id": element.get("id", "")} if element.get("id") else {})
        if within is not None:
            x, y = _length(element, "x", size[0], 0.0), _length(element, "y", size[1], 0.0)
            group.set("transform", f"{element.get('transform', '')} translate({x:.12g} {y:.12g}) {within[1]}")
            group.append(plain)
        return group


def _kind(element: Element) -> str:
    return element.tag.removeprefix(f"{{{NAMESPACE}}}") if isinstance(element.tag, str) else ""


def _kept(parts: Iterator[Element] | list[Element]) -> Element:
    """Parts that are shown where they are used only."""
    kept = Element("defs")
    kept.extend(parts)
    return kept


def _places(element: Element, size: Size) -> dict[str, str]:
    """The attributes that say where a shape is; shares of the viewport in its units."""
    whole = dict.fromkeys(ACROSS, size[0]) | dict.fromkeys(UP, size[1]) | {"r": hypot(*size) / 2**0.5}  # SVG 2, 8.9
    found = {k: v for k, v in element.attrib.items() if k in PLACES}
    shares = {k: f"{_length(element, k, whole[k], 0.0):.12g}" for k, v in found.items()
              if k in whole and v.strip().endswith("%") and _kind(element) != "svg"}
    return found | shares


def _length(element: Element, name: str, whole: float, default: float) -> float:
    """A length in user units: 96 to the inch (CSS Values 3, 5.2); `whole`: what 100 % is."""
    match = NUMBER.fullmatch(element.get(name, "").strip())
    if match is None:
        return default
    value = float(match[1]) * (whole / 100 if match[2] == "%" else POINTS[match[2]])
    return value if isfinite(value) else default


def _view_box(element: Element) -> tuple[float, float, float, float] | None:
    parts = element.get("viewBox", "").replace(",", " ").split()
    try:
        x, y, wide, high = (float(p) for p in parts)
    except ValueError:
        return None
    return (x, y, wide, high) if all(map(isfinite, (x, y, wide, high))) and wide >= 0 and high >= 0 else None


def _within(element: Element, around: Size, use: Element | None = None) -> tuple[Size, str] | None:
    """Size and transform of a nested viewport: SVG 2, 8.2, step by step. `use`: its width and height go before the
    element's own (5.5); None: it is not shown."""
    sides = []
    for name, whole in zip(("width", "height"), around, strict=True):
        own = _length(element, name, whole, whole)
        used = own if use is None else _length(use, name, whole, own)
        sides.append(used if used >= 0 else whole)
    wide, high = sides
    x, y = _length(element, "x", around[0], 0.0), _length(element, "y", around[1], 0.0)
    box = _view_box(element)
    if not wide or not high or (box and not (box[2] and box[3])):
        return None
    if box is None:
        return (wide, high), f"translate({x:.12g} {y:.12g})"
    across, up = wide / box[2], high / box[3]
    align, _, how = element.get("preserveAspectRatio", "").removeprefix("defer").strip().partition(" ")
    if align != "none":
        across = up = max(across, up) if how.strip() == "slice" else min(across, up)
    x, y = x - box[0] * across, y - box[1] * up
    x += (wide - box[2] * across) * {"xMin": 0.0, "xMax": 1.0}.get(align[:4], 0.5) * (align != "none")
    y += (high - box[3] * up) * {"YMin": 0.0, "YMax": 1.0}.get(align[4:], 0.5) * (align != "none")
    if not all(map(isfinite, (across, up, x, y))):
        return None
    return box[2:], f"matrix({across:.12g} 0 0 {up:.12g} {x:.12g} {y:.12g})"
