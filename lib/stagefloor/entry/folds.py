"""Tables that are needed now and then, folded away under their names; each is made when it is first opened."""

from collections.abc import Callable, Sequence

import ipywidgets as widgets


def folds(parts: Sequence[tuple[str, Callable[[], widgets.Widget]]]) -> widgets.Accordion:
    """An accordion of (title, function that makes the content), all closed."""
    boxes = [widgets.VBox(layout=widgets.Layout(width="100%")) for _ in parts]
    accordion = widgets.Accordion(children=boxes, titles=tuple(t for t, _ in parts), selected_index=None)
    accordion.layout.width = "auto"

    def opened(change: dict[str, int | None]) -> None:
        index = change["new"]
        if index is not None and not boxes[index].children:
            boxes[index].children = (parts[index][1](),)

    accordion.observe(opened, names="selected_index")
    accordion.add_class("sf-folds")
    return accordion
