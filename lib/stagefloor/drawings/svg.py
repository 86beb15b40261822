"""The printed renderer: shapes become SVG text. Line, pattern and label carry the meaning, colour only helps.

Every text that comes from outside is escaped here. No link, no script, no style sheet is written.
"""

from html import escape

from stagefloor.drawings.shapes import Drawing, Shape

INK = "#1d2733"
# role -> presentation attributes; {p} stands for the prefix of pattern names
LOOKS: dict[str, str] = {
    "stage": f'fill="#f6f3ec" stroke="{INK}" stroke-width="2.5"',
    "joist": 'fill="none" stroke="#9a8f7d" stroke-width="1" stroke-dasharray="2 5"',
    "bearing": 'fill="none" stroke="#7a6f5d" stroke-width="1.5" stroke-dasharray="9 4 2 4"',
    "keep clear": 'fill="url(#{p}hatch)" fill-opacity="0.7" stroke="#6b5a3a" stroke-width="1.2" stroke-dasharray="6 4"',
    "keep clear line": 'fill="none" stroke="#6b5a3a" stroke-width="2" stroke-dasharray="6 4"',
    "raceway": 'fill="none" stroke="#5a6673" stroke-width="3" stroke-dasharray="12 4"',
    "cable": 'fill="none" stroke="#14532d" stroke-width="3"',
    "floor box": f'fill="#1f4e79" stroke="{INK}" stroke-width="1.5"',
    "planned box": 'fill="none" stroke="#4b5663" stroke-width="1.6" stroke-dasharray="4 3"',
    "moved": 'fill="none" stroke="#4b5663" stroke-width="1.6" stroke-dasharray="2 3"',
    "wall panel": f'fill="#ffffff" stroke="{INK}" stroke-width="3"',
    "riser panel": f'fill="url(#{{p}}dots)" stroke="{INK}" stroke-width="2"',
    "rack": f'fill="url(#{{p}}cross)" stroke="{INK}" stroke-width="1.5"',
    "point": f'fill="#ffffff" stroke="{INK}" stroke-width="2.4"',
    "idle point": 'fill="#ffffff" stroke="#6a7480" stroke-width="1.2" stroke-dasharray="2 2"',
    "flange": f'fill="#e9ecef" stroke="{INK}" stroke-width="1.2"',
    "cutout": f'fill="#ffffff" stroke="{INK}" stroke-width="2"',
    "bay": 'fill="#fafbfc" stroke="#4b5663" stroke-width="1.2"',
    "mains bay": 'fill="url(#{p}thin)" stroke="#4b5663" stroke-width="1.2"',
    "barrier": f'fill="url(#{{p}}bar)" stroke="{INK}" stroke-width="1"',
    "hinge": f'fill="url(#{{p}}knuckle)" stroke="{INK}" stroke-width="1"',
    "plate": f'fill="#eef1f4" stroke="{INK}" stroke-width="1"',
    "hole": f'fill="#ffffff" stroke="{INK}" stroke-width="2"',
    "spare hole": 'fill="#ffffff" stroke="#4b5663" stroke-width="1.4" stroke-dasharray="4 3"',
    "outlet": f'fill="#ffffff" stroke="{INK}" stroke-width="2"',
    "spare outlet": 'fill="#ffffff" stroke="#4b5663" stroke-width="1.4" stroke-dasharray="4 3"',
    "blank plate": 'fill="url(#{p}hatch)" stroke="#4b5663" stroke-width="1"',
    "label edge": 'fill="none" stroke="none"',
    "label outline": 'fill="none" stroke="#8d9aa6" stroke-width="0.6"',
    "scale dark": f'fill="{INK}" stroke="{INK}" stroke-width="0.8"',
    "scale light": f'fill="#ffffff" stroke="{INK}" stroke-width="0.8"',
}
# Classes differ by dash and thickness, so that they are told apart without colour.
LOOKS |= {
    "class 1": 'fill="none" stroke="#1f4e79" stroke-width="2.4"',
    "class 2": 'fill="none" stroke="#5a4a8a" stroke-width="2" stroke-dasharray="9 4"',
    "class 3": 'fill="none" stroke="#7a4a00" stroke-width="3.2"',
    "class 4": 'fill="none" stroke="#14532d" stroke-width="2.2" stroke-dasharray="3 2"',
    "class 5": 'fill="none" stroke="#55636f" stroke-width="2" stroke-dasharray="10 3 2 3"',
    "class 6": 'fill="none" stroke="#8a1c1c" stroke-width="3.2" stroke-dasharray="14 5"',
    "closed way": 'fill="none" stroke="#6a7480" stroke-width="1.4" stroke-dasharray="3 6"',
    "feed": 'fill="none" stroke="#6a7480" stroke-width="1.4" stroke-dasharray="5 4"',
    "node": f'fill="#ffffff" stroke="{INK}" stroke-width="2"',
    "dot": f'fill="{INK}" stroke="none"',
    "diagram box": f'fill="#f5f7f9" stroke="{INK}" stroke-width="1.5"',
    "diagram rack": f'fill="#f5f7f9" stroke="{INK}" stroke-width="2.5"',
    "core microphone": f'fill="#dbe7f1" stroke="{INK}" stroke-width="1"',
    "core line": f'fill="#e6e1f2" stroke="{INK}" stroke-width="1" stroke-dasharray="6 2"',
    "core intercom": f'fill="#f1f1f1" stroke="{INK}" stroke-width="1" stroke-dasharray="2 2"',
    "core loudspeaker": f'fill="#f3e2c7" stroke="{INK}" stroke-width="2.2"',
    "core video": f'fill="#dcefe1" stroke="{INK}" stroke-width="1.6"',
    "core data": f'fill="#eef3e0" stroke="{INK}" stroke-width="1" stroke-dasharray="4 2"',
    "core control": f'fill="#f7e6ea" stroke="{INK}" stroke-width="1" stroke-dasharray="8 2 2 2"',
}
# A band in the colour of a label's word; a thin edge keeps white and yellow visible.
BANDS = {"black": "#000000", "brown": "#6b3f1d", "red": "#c1121f", "orange": "#e8730c", "yellow": "#f4c90b",
         "green": "#1e7a34", "blue": "#1d4fa3", "violet": "#6b3fa0", "grey": "#808080", "white": "#ffffff",
         "pink": "#e58fb1", "turquoise": "#1fa3a3"}
LOOKS |= {f"band {word}": f'fill="{paint}" stroke="{INK}" stroke-width="0.6"' for word, paint in BANDS.items()}
TEXT_LOOKS: dict[str, str] = {
    "label text": 'font-weight="700"',
    "box label": 'font-weight="700"',
    "key": 'font-weight="600"',
    "direction": 'letter-spacing="0.06em" fill="#4a5561"',
    "zone label": 'fill="#57492d" font-style="italic"',
    "idle label": 'fill="#5d6875" font-style="italic"',
}
PATTERNS: dict[str, str] = {
    "hatch": '<pattern id="{p}hatch" width="9" height="9" patternUnits="userSpaceOnUse" '
             'patternTransform="rotate(45)"><rect width="9" height="9" fill="#fbf9f4"/>'
             '<path d="M0 0V9" stroke="#a3957a" stroke-width="1.6"/></pattern>',
    "thin": '<pattern id="{p}thin" width="12" height="12" patternUnits="userSpaceOnUse" '
            'patternTransform="rotate(-45)"><rect width="12" height="12" fill="#fafafa"/>'
            '<path d="M0 0V12" stroke="#cfd5db" stroke-width="1"/></pattern>',
    "dots": '<pattern id="{p}dots" width="5" height="5" patternUnits="userSpaceOnUse">'
            f'<rect width="5" height="5" fill="#fff"/><circle cx="2.5" cy="2.5" r="1.3" fill="{INK}"/></pattern>',
    "cross": '<pattern id="{p}cross" width="7" height="7" patternUnits="userSpaceOnUse">'
             f'<rect width="7" height="7" fill="#fff"/><path d="M0 0L7 7M7 0L0 7" stroke="{INK}" stroke-width="0.7"/>'
             "</pattern>",
    "bar": '<pattern id="{p}bar" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
           f'<rect width="6" height="6" fill="#fff"/><path d="M0 0V6" stroke="{INK}" stroke-width="5"/></pattern>',
    "knuckle": '<pattern id="{p}knuckle" width="16" height="20" patternUnits="userSpaceOnUse">'
               '<rect width="16" height="20" fill="#fff"/>'
               f'<path d="M0 0V20" stroke="{INK}" stroke-width="2"/></pattern>',
}


def clean(text: object) -> str:
    """Text for a page: markup escaped; control characters and lone surrogates shown as the replacement mark."""
    shown = "".join("\N{REPLACEMENT CHARACTER}" if _unprintable(c) else c for c in str(text))
    return escape(shown, quote=True)


def _unprintable(char: str) -> bool:
    code = ord(char)
    return (code < 32 and char not in "\n\t") or 127 <= code < 160 or 0xD800 <= code < 0xE000 or code & 0xFFFE == 0xFFFE


def render(drawing: Drawing, prefix: str, *, true_size: bool = False) -> str:
    """SVG text of a drawing.

    `prefix`: letters and digits that make its pattern names unique on a page. `true_size`: the drawing's unit is the
    millimetre and it prints at its own size.
    """
    if not prefix.isidentifier() or not prefix.isascii():
        raise ValueError(f"{prefix!r} can't begin a name in SVG")
    height = (drawing.extent[3] - drawing.extent[1]) * drawing.scale
    body = "".join(_shape(shape, drawing, prefix) for shape in drawing.shapes)
    patterns = "".join(p.replace("{p}", prefix) for name, p in PATTERNS.items() if f"#{prefix}{name})" in body)
    across, down = drawing.extent[2] - drawing.extent[0], drawing.extent[3] - drawing.extent[1]
    box, size = ((f"{drawing.width:.3f} {height:.3f}", f'width="{across:g}mm" height="{down:g}mm"') if true_size else
                 (f"{_n(drawing.width)} {_n(height)}", f'width="{_n(drawing.width)}" height="{_n(height)}"'))
    return (f'<svg role="img" class="sf-drawing" viewBox="0 0 {box}" {size} aria-labelledby="{prefix}t {prefix}d" '
            f'font-family="system-ui, -apple-system, Segoe UI, Roboto, Helvetica, Arial, sans-serif" fill="{INK}">'
            f'<title id="{prefix}t">{clean(drawing.title)}</title><desc id="{prefix}d">{clean(drawing.description)}'
            f"</desc><defs>{patterns}</defs>{body}</svg>")


def swatch(role: str, prefix: str) -> str:
    """A small sample of a role for a legend, hidden from screen readers: the words beside it say what it is."""
    corners = ((4.0, 2.0), (30.0, 2.0), (30.0, 16.0), (4.0, 16.0))
    shape = (Shape("line", role, ((2.0, 9.0), (32.0, 9.0))) if 'fill="none"' in LOOKS[role]
             else Shape("circle", role, ((17.0, 9.0),), radius=7.0) if "point" in role
             else Shape("polygon", role, corners))
    drawing = Drawing("", "", (0.0, 0.0, 34.0, 18.0), 34.0)
    body = _shape(shape, drawing, prefix)
    patterns = "".join(p.replace("{p}", prefix) for name, p in PATTERNS.items() if f"#{prefix}{name})" in body)
    return f'<svg aria-hidden="true" width="34" height="18" viewBox="0 0 34 18"><defs>{patterns}</defs>{body}</svg>'


def _n(value: float) -> str:
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def _shape(shape: Shape, drawing: Drawing, prefix: str) -> str:
    left, _, _, top = drawing.extent
    spots = [((x - left) * drawing.scale, (top - y) * drawing.scale) for x, y in shape.points]
    said = f"<title>{clean(shape.label)}</title>" if shape.label else ""
    look = LOOKS.get(shape.role, "").replace("{p}", prefix)
    if shape.kind == "text":
        x, y = spots[0][0] + shape.offset[0], spots[0][1] + shape.offset[1]
        role = shape.role.replace(" ", "-")
        return (f'<text class="sf-{role}" x="{_n(x)}" y="{_n(y)}" font-size="{_n(shape.size)}" '
                f'text-anchor="{shape.anchor}" paint-order="stroke" stroke="#fff" stroke-width="2.5" '
                f'stroke-linejoin="round" {TEXT_LOOKS.get(shape.role, "")}>{clean(shape.text)}</text>')
    if shape.kind == "circle":
        x, y = spots[0]
        return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(shape.radius * drawing.scale)}" {look}>{said}</circle>'
    tag = "polygon" if shape.kind == "polygon" else "polyline"
    points = " ".join(f"{_n(x)},{_n(y)}" for x, y in spots)
    return f'<{tag} points="{points}" {look}>{said}</{tag}>'
