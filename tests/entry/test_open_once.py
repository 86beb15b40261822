"""A job that is open already: the second start is led to the first, and only to a server of ours that answers."""

import json
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from stagefloor.entry import open_once
from stagefloor.entry.open_once import already_open, forget, note_open

TOKEN = "0123abcd"


class Answers(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        known = self.path == "/api/status" and self.headers["Authorization"] == f"token {TOKEN}"
        self.send_response(200 if known else 403)
        self.end_headers()

    def log_message(self, *_words: object) -> None:
        """Nothing is printed."""


@pytest.fixture
def port() -> Iterator[int]:
    server = HTTPServer(("127.0.0.1", 0), Answers)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield server.server_port
    server.shutdown()
    server.server_close()


def address(port: int, token: str = TOKEN, host: str = "localhost") -> str:
    return f"http://{host}:{port}/doc/tree/job_sheet.ipynb?token={token}"


def test_a_second_start_is_led_to_the_first_and_to_the_step_it_asks_for(tmp_path: Path, port: int) -> None:
    assert already_open(tmp_path) == ""
    note_open(tmp_path, address(port))
    assert already_open(tmp_path) == address(port)
    assert already_open(tmp_path, "boxes") == address(port).replace("job_sheet", "boxes")
    assert already_open(tmp_path / "other") == ""
    forget(tmp_path)
    assert already_open(tmp_path) == ""


def test_a_server_that_is_gone_or_is_another_ones_does_not_count(tmp_path: Path, port: int) -> None:
    note_open(tmp_path, address(port, token="another"))
    assert already_open(tmp_path) == ""
    note_open(tmp_path, address(1))
    assert already_open(tmp_path) == ""


@pytest.mark.parametrize("note", ["", "{}", "[1]", "\0", '{"address": "http://example.org:80/doc/tree/a.ipynb?token=a"}',
                                  '{"address": "file:///etc/passwd"}', '{"address": null}'])
def test_a_damaged_note_leads_nowhere(tmp_path: Path, note: str) -> None:
    note_open(tmp_path, "x")
    open_once._note(tmp_path).write_text(note)
    assert already_open(tmp_path) == ""
    forget(tmp_path)


def test_the_note_is_for_this_user_alone_and_not_in_the_jobs_folder(tmp_path: Path) -> None:
    note_open(tmp_path, address(1))
    note = open_once._note(tmp_path)
    assert note.stat().st_mode & 0o077 == 0
    assert list(tmp_path.iterdir()) == []
    note.write_text(json.dumps({"address": address(1), "process": 1}))
    forget(tmp_path)  # another process's note stays
    assert note.exists()
