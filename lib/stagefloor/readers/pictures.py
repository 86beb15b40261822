"""Pictures on a reader's pages: each a small JPEG inside the page, with its caption, grouped by what it shows."""

from typing import Annotated

from pydantic import Field

from stagefloor.drawings.plain import Plain
from stagefloor.drawings.svg import clean
from stagefloor.readers.html import section

Points = Annotated[int, Field(gt=0)]


class ShownPicture(Plain):
    """One picture that was chosen for this reader. `data`: a JPEG in base64; `group`: the heading that it stands under."""

    group: str
    about: str = ""
    caption: str = ""
    date: str = ""
    wide: Points
    high: Points
    data: Annotated[str, Field(pattern=r"^[A-Za-z0-9+/]+={0,2}$")]


def picture_groups(pictures: tuple[ShownPicture, ...]) -> str:
    """The pictures below the name of their box or subject, or nothing."""
    groups: dict[str, list[str]] = {}
    for picture in pictures:
        groups.setdefault(picture.group, []).append(_figure(picture))
    return section("Pictures", "".join(
        f'<h3>{clean(name)}</h3><div class="pictures">{"".join(figures)}</div>' for name, figures in groups.items()))


def _figure(picture: ShownPicture) -> str:
    alt = ", ".join(w for w in (picture.caption or "Photo", picture.about or picture.group) if w)
    date = f'<span class="date">{clean(picture.date)}</span>' if picture.date else ""
    small = ", ".join(w for w in (clean(picture.about), date) if w)
    words = clean(picture.caption) + (f" <small>{small}</small>" if small else "")
    return (f'<figure><img alt="{clean(alt)}" width="{picture.wide}" height="{picture.high}" '
            f'src="data:image/jpeg;base64,{clean(picture.data)}"><figcaption>{words}</figcaption></figure>')
