"""Rules about the building and about who shares a cable: each on a job that has the fault and one that has not."""

import pytest

from stagefloor.core.open_items import CHECK, MEND, STOP, TO_DO
from stagefloor.job.cables import Cable, CableType, Circuit, Segment
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps.cables import lines
from stagefloor.steps.cables.bundles import link_of
from stagefloor.steps.cables.cures import cure, longest

FOOT = 0.3048


def stage(kinds: tuple[str, ...] = ("microphone",), far: str = "30", **segment: str) -> Job:
    """Rack at 0, one raceway to a pull point, a box on it, a line of each kind in a cable of its own."""
    job = set_fields(Job(), "settings", "job", {"rack_x": "0", "rack_y": "0", "slack_box": "0", "slack_rack": "0"})
    job, _ = add(job, "node", [{"label": "R", "what": "rack", "x": "0", "y": "0"}, {"label": "A", "x": far, "y": "0"}])
    job, _ = add(job, "segment", [{"label": "R-A", "start": "R", "end": "A", "string": "proved", "bends": "0", **segment}])
    job, _ = add(job, "box", [{"label": "FB-1", "x": far, "y": "0"}, {"label": "FB-2", "x": far, "y": "0"}])
    for n, kind in enumerate(kinds):
        if not any(t.what == kind for t in job.all(CableType)):
            awg = {"loudspeaker": "16", "data": "23"}.get(kind, "22")
            job, _ = add(job, "cabletype", [{"label": kind, "what": kind, "diameter": "0.2 in", "awg": awg,
                                             "resistance": "53 ohm/km"}])
        job, _ = add(job, "opening", [{"box": "FB-1", "label": f"o{n}", "what": kind}])
        job, _ = add(job, "circuit", [{"label": f"L{n}", "what": kind, "openings": f"o{n}"}])
        job, _ = add(job, "cable", [{"label": f"L{n}", "circuits": f"L{n}", "type": kind}])
    return job


def states(job: Job) -> dict[str, str]:
    return {i.code: i.state for i in compute(job).items_of("cables")}


def segment(job: Job, **fields: str) -> Job:
    return set_fields(job, "segment", job.all(Segment)[0].id, fields)


def cabletype(job: Job, **fields: str) -> Job:
    return set_fields(job, "cabletype", job.all(CableType)[0].id, fields)


# --- the building


def test_a_rated_wall_asks_for_a_seal() -> None:
    job = stage(wall="fire-rated")
    assert states(job)["wall-not-sealed"] == MEND
    assert "wall-not-sealed" not in states(segment(job, seal="needed, closed"))
    assert "wall-not-sealed" not in states(stage())
    assert states(segment(job, seal="needed, open"))["sleeve-open"] == MEND


@pytest.mark.parametrize(("space", "rating", "state"), [
    ("air-handling (plenum)", "plenum", None), ("air-handling (plenum)", "riser", MEND),
    ("air-handling (plenum)", "", STOP), ("riser between floors", "general", MEND), ("riser between floors", "riser", None),
    ("riser between floors", "plenum", None), ("ordinary", "", None)])
def test_a_jacket_for_the_space(space: str, rating: str, state: str | None) -> None:
    # a better jacket replaces a plainer one, never the other way: NFPA 70 substitution table
    job = cabletype(stage(way="free path", space=space, supports="4"), rating=rating)
    assert states(job).get("cable-rating") == state
    assert "cable-rating" not in states(segment(job, way="EMT"))  # metal raceway, 300.22(C)


def test_plastic_raceway_where_an_audience_gathers() -> None:
    assert states(stage(way="PVC40"))["raceway-not-metal"] == CHECK
    for fine in ({"way": "EMT"}, {"space": "concrete, 2 in (50 mm) over it"}, {"existing": "yes"}):
        assert "raceway-not-metal" not in states(segment(stage(way="PVC40"), **fine))


def test_a_free_path_wants_supports_and_a_fished_one_a_rod() -> None:
    assert states(stage(way="free path"))["path-supports"] == TO_DO
    assert "path-supports" not in states(stage(way="free path", supports="4"))
    assert states(stage(way="fished through", string="unknown"))["path-not-proved"] == CHECK
    assert "path-not-proved" not in states(stage(way="fished through"))


def test_old_cable_that_nobody_reuses_comes_out() -> None:
    job, _ = add(stage(), "oldoutlet", [{"label": "MIC 1", "reuse": "no", "count": "2"}, {"label": "MIC 2"}])
    assert states(job)["cable-abandoned"] == TO_DO
    assert next(i.amount for i in compute(job).items if i.code == "cable-abandoned") == "2 lines"
    kept, _ = add(stage(), "oldoutlet", [{"label": "MIC 2"}])
    assert "cable-abandoned" not in states(kept)
    failed, _ = add(stage(), "oldoutlet", [{"label": "MIC 2", "tested": "failed"}])
    assert states(failed)["cable-abandoned"] == TO_DO


def test_spare_raceways_by_the_shops_policy() -> None:
    job = set_fields(stage(), "settings", "job", {"spare_raceways": "1"})
    assert "no-spare-raceway" not in states(stage())
    assert states(job)["no-spare-raceway"] == CHECK
    job, _ = add(job, "segment", [{"label": "spare", "start": "R", "end": "A", "signal_class": "control"}])
    assert "no-spare-raceway" not in states(job)


# --- who shares what


def shared(kinds: tuple[str, ...], **kind: str) -> Job:
    """All lines in the first cable."""
    job = stage(kinds)
    first, *rest = job.all(Cable)
    job = set_fields(job, "cable", first.id, {"circuits": ", ".join(f"L{n}" for n in range(len(kinds)))})
    return cabletype(job.without(Cable, [c.id for c in rest]), **kind)


def test_four_analogue_lines_in_one_four_pair_cable() -> None:
    four = shared(("microphone", "microphone", "line", "intercom"), lines="4")
    assert not {"cable-overfull", "cable-mixed", "cable-two-boxes"} & set(states(four))
    assert states(shared(("microphone",) * 5, lines="4"))["cable-overfull"] == MEND
    assert states(shared(("microphone", "loudspeaker"), lines="2"))["cable-mixed"] == MEND


def test_one_cable_from_two_boxes() -> None:
    job = shared(("microphone", "microphone"), lines="2")
    job, _ = add(job, "opening", [{"box": "FB-2", "label": "there"}])
    job = set_fields(job, "circuit", job.all(Circuit)[1].id, {"openings": "there"})
    assert states(job)["cable-two-boxes"] == MEND


@pytest.mark.parametrize(("kind", "state"), [("loudspeaker", None), ("microphone", CHECK), ("data", MEND), ("video", MEND)])
def test_two_openings_on_one_line(kind: str, state: str | None) -> None:
    job, _ = add(stage((kind,)), "opening", [{"box": "FB-1", "label": "twin", "what": kind}])
    job = set_fields(job, "circuit", job.all(Circuit)[0].id, {"openings": "o0, twin"})
    assert states(job).get("line-shared") == state


def test_an_assembly_is_bought_long_enough_and_its_head_is_known() -> None:
    job = cabletype(stage(("video",)), assembly="yes")
    assert {"assembly-length", "assembly-head"} <= set(states(job))
    job = cabletype(job, head="20 mm")
    cable = job.all(Cable)[0].id
    short = set_fields(job, "cable", cable, {"typed_length": "29 ft"})
    assert states(short)["assembly-short"] == MEND
    assert next(i.amount for i in compute(short).items if i.code == "assembly-short") == "29' of 30'"
    fits = set_fields(job, "cable", cable, {"typed_length": "33 ft"})
    assert not {"assembly-length", "assembly-head", "assembly-short"} & set(states(fits))
    got = compute(fits).quantities
    assert got["assemblies: video"] == 1
    assert "cable m: video" not in got  # nothing is cut from a reel


def test_how_a_data_line_is_tested_follows_its_end() -> None:
    assert link_of(CableType(id="a"), "data") == "permanent link"
    assert link_of(CableType(id="a", coupler=True), "data") == "modular plug terminated link"
    assert "maker" in link_of(CableType(id="a", assembly=True), "data")
    assert link_of(CableType(id="a"), "video") == ""


# --- cures


def test_a_thin_loudspeaker_line_is_told_its_gauge() -> None:
    # 8 ohm, 0.5 dB: R <= 8 (10^(0.5/20) - 1) = 0.474 ohm. Handbook copper at 20 C, ohm a thousand feet: 16 AWG 4.016,
    # 14 2.525, 12 1.588, 10 0.999. 150 ft there and back: 16: 1.20, 14: 0.76, 12: 0.476, 10: 0.30. So 10 AWG.
    job = stage(("loudspeaker",), far="150")
    (line,) = lines(job)
    assert line.check is not None
    assert line.check.holds is False
    assert "gauge: 10 AWG" in cure(line, "ft-in")
    assert (longest(line) or 0) / FOOT == pytest.approx(0.474 / (2 * 4.016e-3), rel=0.01)
    assert next(i.cure for i in compute(job).items if i.code == "line-limit") == cure(line, "ft-in")
    near = lines(stage(("loudspeaker",), far="50"))[0]
    assert cure(near, "ft-in") == ""


def test_a_long_data_line_is_told_route_and_medium() -> None:
    # 90 m of fixed cable at the most (ISO/IEC 11801-1). 20 m across and 75 m up are 95 m by the raceway, 77.6 m through
    # the air: a shorter way may do. 92 m straight ahead can't be shortened.
    job = stage(("data",), far="92 m")
    (line,) = lines(job)
    assert cure(line, "m") == "medium: fibre, or a network switch on the way"
    bent = stage(("data",), far="20 m")
    node = bent.all(Segment)[0].end
    bent = set_fields(set_fields(bent, "node", node, {"y": "75 m"}), "box", line.box.id, {"y": "75 m"})
    (line,) = lines(bent)
    assert line.metres == pytest.approx(95)
    assert "route: 5 m shorter; the straight distance with slack is 77.621 m" in cure(line, "m")
