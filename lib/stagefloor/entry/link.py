"""The line between a browser view and Python: numbered edits, each answered exactly once; knows no job."""

import logging
import pathlib
from collections import OrderedDict
from collections.abc import Callable
from typing import Any

import anywidget
import traitlets

Message = dict[str, Any]
Answer = dict[str, Any]

HERE = pathlib.Path(__file__).parent
ANSWERS_KEPT = 500
NOT_KNOWN = (
    "A fault in the program came up with this change. Load the page again and look whether it is there; if not, make it "
    "again, and tell whoever looks after the workbook."
)
FAULT = (
    "This change could not be saved because of a fault in the program. Try it again; "
    "if it is refused again, tell whoever looks after the workbook."
)

log = logging.getLogger(__name__)


def front_end(*file_names: str) -> str:
    """Front-end modules as one text, after the line they share: a widget's module can import no neighbour."""
    return "\n".join((HERE / name).read_text("utf-8") for name in ("link.js", *file_names))


class Linked(anywidget.AnyWidget):
    """A widget whose browser side sends one edit at a time and resends it until it is answered.

    Each edit carries the browser's own id and number. An edit that arrives twice (a lost answer, a page
    loaded again) is not carried out a second time: its answer tells what stands there now. A question carries a number of
    its own, changes nothing, and is answered once.
    """

    name = traitlets.Unicode("").tag(sync=True)
    keep_under = traitlets.Unicode("").tag(sync=True)

    def __init__(self, on_change: Callable[[Message], Answer | None], **traits: Any) -> None:
        super().__init__(**traits)
        self._on_change = on_change
        self._answers: OrderedDict[tuple[str, int], Answer] = OrderedDict()
        self._answering = False
        self.on_msg(self._receive)

    def _receive(self, _widget: Any, message: Message, _buffers: Any) -> None:
        if message.get("do") == "hello":
            earlier = message.get("earlier")
            pairs = [e for e in earlier if isinstance(e, list)] if isinstance(earlier, list) else []
            had = {(client, str(edit)) for client, edit in self._answers}
            self.send({**self._whole(), "had": [e for e in pairs if tuple(map(str, e)) in had]})
            return
        if "question" in message:
            body = {key: value for key, value in message.items() if key not in ("client", "question")}
            self.send({**self._reply(body), "client": str(message.get("client", "")), "reply": message["question"]})
            return
        edit = (str(message.get("client", "")), int(message.get("edit", 0)))
        again = edit in self._answers
        if not again:
            body = {key: value for key, value in message.items() if key not in ("client", "edit", "made")}
            self._answering = True
            try:
                answer = self._answer(body)
            except Exception:  # without an answer it would be sent, and carried out, again
                log.exception("an answer of %r could not be made", self.name)
                answer = {"ok": False, "say": NOT_KNOWN}
            finally:
                self._answering = False
            self._answers[edit] = {**answer, "client": edit[0], "ack": edit[1]}
            while len(self._answers) > ANSWERS_KEPT:
                self._answers.popitem(last=False)
        self.send({**self._renewed(self._answers[edit]), "again": True} if again else self._answers[edit])

    def _ask(self, message: Message) -> Answer:
        """What the owner of the widget says to an edit; a fault in the owner's code becomes a sentence."""
        try:
            return self._on_change(message) or {"ok": True}
        except Exception:
            log.exception("a change in %r could not be carried out", self.name)
            return {"ok": False, "say": FAULT}

    def _reply(self, message: Message) -> Answer:
        """Answer a question; it must not change anything."""
        return {}

    def _renewed(self, answer: Answer) -> Answer:
        """An answer as it would be now: others may have changed since what it tells of."""
        return answer

    def _whole(self) -> Message:
        """Everything a newly opened view must know."""
        raise NotImplementedError

    def _answer(self, message: Message) -> Answer:
        """Carry one edit out and say what changed."""
        raise NotImplementedError
