"""What is wrong or unknown: subject, amount, basis, cure, the date it blocks. Ordered by how much it matters."""

from dataclasses import dataclass, field

from stagefloor.core.workings import Working

MEND = "mend"            # a plain conflict in what is entered; the five words of the trade have no word for it
STOP = "stop (unknown)"
ENGINEER = "ask the engineer"
CHECK = "check"
TO_DO = "to do"
DONE = "done"
STATES = (STOP, MEND, ENGINEER, CHECK, TO_DO, DONE)

# The five dates that rule a job; an open item names the first one it blocks.
DATES = ("positions frozen", "raceways in, strings proved", "panels ordered", "floor finish", "first event")


@dataclass(frozen=True)
class OpenItem:
    """One open item.

    Attributes
    ----------
    code : stable short name of the rule, such as 'box-on-joist'
    step : the step it belongs to; subject : what it is about, as the user calls it; record : (kind, id) if there is one
    what : the sentence; amount : by how much; basis : by which rule; cure : what would mend it
    state : one of STATES; blocks : one of DATES or empty; question : what to ask on site, if something is unknown
    workings : the calculations behind it
    """

    code: str
    step: str
    subject: str
    what: str
    amount: str
    basis: str
    cure: str
    state: str
    blocks: str = ""
    record: tuple[str, str] | None = None
    question: str = ""
    workings: tuple[Working, ...] = field(default=(), compare=False)

    @property
    def must_mend(self) -> bool:
        """Whether the job can't go on before this is mended or known."""
        return self.state in (STOP, MEND)

    @property
    def said(self) -> str:
        """What is wrong or unknown and by how much; nothing is said twice."""
        told = not self.amount or self.amount == "unknown" or self.what.startswith(self.amount)
        return self.what if told else f"{self.what.rstrip('.')}: {self.amount}"

    def as_data(self) -> dict[str, object]:
        return {"code": self.code, "step": self.step, "subject": self.subject, "what": self.what,
                "amount": self.amount, "basis": self.basis, "cure": self.cure, "state": self.state,
                "blocks": self.blocks, "record": list(self.record) if self.record else None,
                "question": self.question, "must_mend": self.must_mend,
                "workings": [w.as_data() for w in self.workings]}


def ordered(items: list[OpenItem]) -> list[OpenItem]:
    """The items that matter most first: by state, then by the date they block, then by subject."""
    def rank(item: OpenItem) -> tuple[int, int, str, str]:
        date = DATES.index(item.blocks) if item.blocks in DATES else len(DATES)
        return STATES.index(item.state), date, item.subject, item.code

    return sorted(items, key=rank)
