"""The page of calculations: each opens on its example, a wrong text stays, no job is needed."""

import nbformat
import pytest
from browser import TOP
from nbclient import NotebookClient

from stagefloor.calculations.catalogue import ALL
from stagefloor.entry.calculations import Page


@pytest.fixture
def page(tmp_path, monkeypatch) -> Page:
    monkeypatch.chdir(tmp_path)  # a folder without a job
    monkeypatch.delenv("STAGEFLOOR_JOB", raising=False)
    return Page()


def said(page: Page) -> dict[str, str]:
    return {key: s.value for key, s in page._said.items() if s.value}


def test_every_calculation_shows_the_working_of_its_example(page: Page) -> None:
    for c in ALL:
        page.choose.value = c.name
        assert list(page.fields) == [p.key for p in c.parameters]
        assert "<details open" in page.working.value and "Basis: " in page.working.value, c.name
        assert said(page) == {}, c.name


def test_the_result_follows_the_text_in_either_system(page: Page) -> None:
    page.choose.value = "voltage-drop-uk"
    page.fields["length"].value = "18 m"
    # 18 mV/A/m x 16 A x 18 m / 1000 = 5.184 V (BS 7671 Appendix 4); 59.0551 ft are 18 m
    assert "5.184 V" in page.working.value
    page.fields["length"].value = "36 m"
    assert "10.37 V" in page.working.value
    page.fields["length"].value = "59.0551 ft"
    assert "5.184 V" in page.working.value


def test_a_wrong_text_stays_and_its_sentence_stands_beside_it(page: Page) -> None:
    page.choose.value = "voltage-drop-uk"
    page.fields["length"].value = "18 kg"
    assert page.fields["length"].value == "18 kg"
    assert list(said(page)) == ["length"] and "length" in said(page)["length"]
    assert " V</b>" not in page.working.value
    page.choose.value = "beta"
    page.choose.value = "voltage-drop-uk"
    assert page.fields["length"].value == "18 kg"
    page.fields["length"].value = ""
    assert "length" in said(page)["length"]


def test_what_is_typed_is_escaped(page: Page) -> None:
    page.fields["length"].value = "<script>1</script>"
    assert not any("<script" in text for text in (page.working.value, *said(page).values()))


@pytest.mark.notebook
def test_the_page_runs_from_top_to_bottom_without_a_job(tmp_path, monkeypatch) -> None:
    monkeypatch.delenv("STAGEFLOOR_JOB", raising=False)
    monkeypatch.setenv("PYTHONPATH", str(TOP / "lib"))
    notebook = nbformat.read(TOP / "workbook" / "calculations.ipynb", as_version=4)
    NotebookClient(notebook, timeout=120, resources={"metadata": {"path": str(tmp_path)}}).execute()
    (shown,) = notebook.cells[-1].outputs
    assert "application/vnd.jupyter.widget-view+json" in shown["data"]
