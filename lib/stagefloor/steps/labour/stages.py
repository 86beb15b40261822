"""The stages of the work in their order: what each counts, what it waits for, and where work stops until someone looks.

Common practice, no source; the local code, the engineer and the licensed electrician come first. Nothing is opened, no
old outlet taken out, before its breaker is off, locked and proved dead; a mains outlet is the electrician's.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from stagefloor.job.closeout import HoldPoint
from stagefloor.job.model import Job
from stagefloor.steps.labour import quantities as names

NOBODY = "nobody named yet"
ELECTRICIAN = "the licensed electrician"
SUPPLIER = "the supplier"
AGREE, SURVEY, SCAN = "Agree power, permit and dates", "Survey the site", "Scan the floor"
ORDERED, OLD, OUT = "Order boxes and panels", "Test old lines", "Take out old outlets"
OPENED, RUN = "Open the floor and set boxes and panels", "Raceways and pull strings"
PULL, END, TEST = "Pull cables", "Terminate and label", "Test lines"
COMMISSION, TRAIN, PAPERS = "Commission", "Train the venue's people", "Handover papers"
PERMIT, DEAD = "Permit and power agreed", "Breaker off, locked and proved dead"
STRINGS, FINISH = "Raceways in, strings proved", "Before the floor finish"
LIVE, EVENT = "Breaker on, after the electrician's test", "Before the first event"
CURED, COVER = "Curing", "Floor finish"
# the stages that wait for what is bought, and what that wait is called
DELIVERED = {OPENED: "Delivery of boxes and panels", RUN: "Delivery of raceways", PULL: "Delivery of cables",
             END: "Delivery of connectors and labels"}


@dataclass(frozen=True)
class Stage:
    """A stage of the work: the quantities that its tasks count and what it waits for.

    `holds`: it is a hold point, released by the records whose 'Before' is one of these. `by`: nobody of the crew is
    needed for it, and this is said instead.
    """

    name: str
    counts: tuple[str, ...]
    after: tuple[str, ...]
    holds: tuple[str, ...] = ()
    by: str = ""


# Line tests stand before the floor finish: a fault that is found behind a closed floor costs the floor. Power, visitors
# and people to train come when the finish is dry. What cures is neither loaded nor covered, and no cable is pulled at it.
STAGES = (
    Stage(SURVEY, ("surveys",), ()),
    Stage(AGREE, ("mains requests",), (SURVEY,)),
    Stage(SCAN, ("scans",), (SURVEY,)),
    Stage(ORDERED, (), (SURVEY, SCAN)),
    Stage(DELIVERED[OPENED], (), (ORDERED,), by=SUPPLIER),
    Stage(DELIVERED[RUN], (), (SURVEY,), by=SUPPLIER),
    Stage(DELIVERED[PULL], (), (SURVEY,), by=SUPPLIER),
    Stage(DELIVERED[END], (), (SURVEY,), by=SUPPLIER),
    Stage(OLD, ("old lines tested",), (SURVEY,)),
    Stage(PERMIT, (), (AGREE,), ("work starts",)),
    Stage(DEAD, (), (PERMIT,), ("opening the floor",)),
    Stage(OUT, ("old outlets removed", "old outlets blanked"), (DEAD, OLD)),
    Stage(OPENED, ("cores", "framed openings", "floor boxes", "wall panels"),
          (PERMIT, DEAD, SCAN, ORDERED, DELIVERED[OPENED], OLD, OUT)),
    Stage(RUN, ("raceway m:", "cable tray m", "cable supports", "pull strings"), (OPENED, DELIVERED[RUN])),
    Stage(STRINGS, (), (OPENED, RUN), ("pour", "deck")),
    Stage(CURED, (), (OPENED,), by="nobody: it must not be loaded"),
    Stage(PULL, ("pulls", "first cables m", "added cables m", "cable m:"), (STRINGS, CURED, DELIVERED[PULL])),
    Stage(END, ("cable ends:", "openings:", "labels"), (PULL, ORDERED, DELIVERED[END])),
    Stage(TEST, ("tests:", "circuits:"), (END,)),
    Stage(FINISH, (), (TEST,), ("finish",)),
    Stage(COVER, (), (FINISH, CURED)),
    Stage(LIVE, (), (FINISH, COVER, END), ("breaker on",)),
    Stage(COMMISSION, ("commissioning visits",), (TEST, LIVE)),
    Stage(TRAIN, ("training sessions",), (COMMISSION,)),
    Stage(PAPERS, ("document sets",), (TEST,)),
    Stage(EVENT, (), (COMMISSION, TRAIN, PAPERS, COVER, LIVE), ("first event",)),
)
BY_NAME = {s.name: s for s in STAGES}
# what these were called once, for jobs that name them
RENAMED = {"Agree mains, permit and dates": (AGREE,), "Permit and mains agreed": (PERMIT,),
           "Breaker on, after the mains test": (LIVE,), "Test old lines, take out old outlets": (OUT, OLD)}


def belongs(quantity: str, stage: Stage) -> bool:
    """Whether a task that is counted by this quantity is work of the stage."""
    name = names.plain(quantity)
    return any(name == p or (p.endswith(":") and name.startswith(p)) for p in stage.counts)


def key_of(label: str) -> str:
    """What a typed step is known by: its name in small letters, a name of once as the one of now."""
    name = label.strip()
    return RENAMED.get(name, (name,))[0].lower()


def meant(word: str, known: Collection[str]) -> str | None:
    """The step that is meant by a name as typed, one of `known`; None if there is none."""
    for name in RENAMED.get(word.strip(), (word.strip(),)):
        if found := next((n for n in known if n.lower() == name.lower()), None):
            return found
    return None


def present(name: str, steps: Mapping[str, object]) -> list[str]:
    """What a stage waits for; a stage that the job does not have passes on what it waits for itself."""
    found: list[str] = []
    for one in BY_NAME[name].after:
        found += [one] if one in steps else present(one, steps)
    return list(dict.fromkeys(found))


def points_of(job: Job, stage: Stage) -> list[HoldPoint]:
    """The records that release a hold point."""
    return [p for p in job.all(HoldPoint) if p.when in stage.holds]
