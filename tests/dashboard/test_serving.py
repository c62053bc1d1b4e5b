"""What the web process sends and refuses: status, caching, compression, hostile requests."""

import gzip
import http.client
import json
import logging
import re
import socket
import threading
import zlib

import pytest

from dashboard import serve
from dashboard.app import create_app
from dashboard.headers import LARGEST_BODY
from tests.dashboard.edition_maker import HOSTILE
from tests.dashboard.page_reader import _targets

NEVER_SHOWN = ("Traceback", "Error:", "site-packages", "/work", "/tmp")


@pytest.mark.parametrize(("address", "status"), [
    ("/", 200), ("/places", 200), ("/places?site=nowhere&x=1", 200), ("/places/", 200),
    ("/places/HD-1%20discharge", 200), ("/lives", 200), ("/trials", 200), ("/spares", 200),
    ("/lives/homogeniser%20discharge/C-304-OP1", 200), ("/data-health", 200),
    ("/no-such-page", 404), ("/places/no such place", 404), ("/places/HD-1%20discharge/x", 404),
    ("/lives/loop", 404), ("/lives/no/such", 404), ("/not-found-404", 404), ("/favicon.ico", 404),
    ("/places/..%2f..%2fetc%2fpasswd", 404), ("/places/%00", 404), ("/places/%ff", 404),
    ("/places/two%0Alines", 404)])
def test_the_status_tells_whether_there_is_a_page(full, address, status):
    answer = full.client.get(address)
    assert answer.status_code == status
    assert "_dash-config" in answer.get_data(as_text=True)  # the shell, which shows a page


@pytest.mark.parametrize("text", HOSTILE)
def test_a_place_of_any_name_is_found_under_its_address(hostile, text):
    from urllib.parse import quote

    listed = hostile.client.get("/download/places.csv").get_data(as_text=True)
    if text.split("\n")[0] in listed.replace('""', '"').replace("'=", "=").replace("'@", "@"):
        assert hostile.client.get(f"/places/{quote(text, safe='')}").status_code == 200


def fetch(reader, path, **headers):
    """Return status, headers and body; the answer is closed, as files want to be."""
    asked = {name.replace("_", "-"): value for name, value in headers.items()}
    with reader.client.get(path, headers=asked) as answer:
        return answer.status_code, answer.headers, answer.get_data()


def links_of(reader):
    text = reader.client.get("/").get_data(as_text=True)
    return [found.replace("&amp;", "&") for found in re.findall(r'(?:src|href)="(/[^"]+)"', text)]


def test_everything_the_shell_names_may_be_kept_for_ever_and_is_compressed(full):
    links = links_of(full)
    assert len(links) > 15
    saved = []
    for link in links:
        status, headers, plain = fetch(full, link)
        assert status == 200, link
        assert headers["Cache-Control"] == "public, max-age=31536000, immutable", link
        _, packed_headers, packed = fetch(full, link, Accept_Encoding="gzip")
        assert packed_headers["Cache-Control"] == headers["Cache-Control"]
        if packed_headers.get("Content-Encoding") == "gzip":
            assert gzip.decompress(packed) == plain
            assert "Accept-Encoding" in packed_headers["Vary"]
        saved.append((len(plain), len(packed)))
    assert sum(after for _, after in saved) < 0.35 * sum(before for before, _ in saved)


def test_styles_and_scripts_arrive_whole_and_leave_no_file_open(full):
    for link in ("/assets/b_base.css", "/assets/braidlife.js"):
        _, headers, packed = fetch(full, link, Accept_Encoding="deflate")
        assert headers["Content-Encoding"] == "deflate"
        assert zlib.decompress(packed) == fetch(full, link)[2]


@pytest.mark.parametrize("path", ["/", "/places", "/_dash-layout", "/download/lives.csv", "/readyz",
                                  "/assets/none.css?m=1", "/no-such-page"])
def test_what_changes_is_never_kept(full, path):
    assert full.client.get(path).headers["Cache-Control"] == "no-store"


def test_an_asset_without_its_version_is_asked_for_again(full):
    _, headers, _ = fetch(full, "/assets/b_base.css")
    assert headers["Cache-Control"] == "no-cache"
    again, _, _ = fetch(full, "/assets/b_base.css", If_None_Match=headers["ETag"])
    assert again == 304


@pytest.mark.parametrize(("host", "status"), [
    ("localhost", 200), ("localhost:8050", 200), ("127.0.0.1:1", 200), ("[::1]:8050", 200),
    ("evil.example", 400), ("evil.example:8050", 400), ("127.0.0.1.evil.example", 400),
    ("localhost@evil.example", 400), ("", 400), ("[::1", 400)])
def test_another_name_for_this_machine_reads_nothing(full, host, status):
    for path in ("/", "/download/lives.csv", "/_dash-layout"):
        answer = full.client.get(path, headers={"Host": host})
        assert answer.status_code == status, path
        assert status == 200 or "service_point" not in answer.get_data(as_text=True)


def test_a_name_that_was_given_is_served(stores):
    client = create_app(stores["full"], hosts=("127.0.0.7",)).server.test_client()
    assert client.get("/readyz", headers={"Host": "127.0.0.7:80"}).status_code == 200


@pytest.mark.parametrize("path", [
    "/assets/..%2fapp.py", "/assets/%2e%2e/app.py", "/assets/../app.py", "/static/app.py",
    "/_dash-component-suites/dash/..%2f..%2fflask%2fapp.py", "/_dash-component-suites/os/path.js",
    "/_dash-component-suites/dash/deps/none.js", "/download/..%2f..%2fcurrent.csv",
    "/download/lives.csv%00.xlsx", "/download/Lives.csv", "/download/pg_catalog.csv"])
def test_no_file_or_table_beside_the_published_ones_is_handed_out(full, path):
    answer = full.client.get(path)
    assert answer.status_code == 404
    assert not any(word in answer.get_data(as_text=True) for word in ("import ", *NEVER_SHOWN))


VALUES = [*HOSTILE, None, -1, 1e308, True, [], {}, ["x"], "x" * 600_000, "\x00", "\U0001f600",
          {"startRow": 0, "endRow": 10**9,
           "filterModel": {"x": {"type": "contains", "filter": "'"}},
           "sortModel": [{"colId": "rank; drop table lives", "sort": "desc; --"}]},
          {"startRow": "a", "endRow": None}, {"startRow": -5, "endRow": -1, "sortModel": "x"}]


@pytest.mark.parametrize("number", range(len(VALUES)))
def test_callbacks_take_any_value(full, number, caplog):
    value = VALUES[number]
    with caplog.at_level(logging.CRITICAL, "braidlife.pages"):
        for key, listed in full.app.callback_map.items():
            if "callback" not in listed:
                continue  # runs in the browser
            body = {"output": key, "outputs": _targets(key), "changedPropIds": [],
                    "inputs": [{**item, "value": value} for item in listed["inputs"]],
                    "state": [{**item, "value": value} for item in listed["state"]]}
            answer = full.client.post("/_dash-update-component", data=json.dumps(body),
                                      content_type="application/json")
            # One value in place of many is no question at all.
            asked = listed["inputs"] + listed["state"]
            has_many = any(item["id"].startswith("{") for item in asked)
            is_page = any(item["property"] == "pathname" for item in asked)
            may_refuse = has_many or is_page or value is not None
            assert answer.status_code in (200, 204, *([400] if may_refuse else [])), key
            told = answer.get_data(as_text=True)
            assert not any(word in told for word in NEVER_SHOWN), key
    assert full.client.get("/readyz").status_code == 200


@pytest.mark.parametrize(("body", "status"), [
    ("{", 400), ("[]", 400), ("null", 400), ("{}", 400), ('{"output": "../x"}', 400),
    ('{"output": ["x"]}', 400), ('{"output": "shell-search.data"}', 400),
    ("x" * (LARGEST_BODY + 1), 413)])
def test_a_malformed_question_is_refused_in_words(full, body, status, caplog):
    with caplog.at_level(logging.CRITICAL, "braidlife.pages"):
        answer = full.client.post("/_dash-update-component", data=body,
                                  content_type="application/json")
    assert answer.status_code == status
    assert not any(word in answer.get_data(as_text=True) for word in NEVER_SHOWN)


@pytest.fixture(scope="module")
def port(stores):
    """Port of the real web server over the full store."""
    server = serve.listening(stores["full"], "127.0.0.1", 0)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield server.effective_port
    server.close()
    thread.join(10)


def ask(port, path, method="GET", **headers):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        connection.request(method, path, headers=headers)
        answer = connection.getresponse()
        return answer.status, dict(answer.headers), answer.read()
    finally:
        connection.close()


def test_the_server_refuses_a_megabyte_of_address_and_lives_on(port):
    assert ask(port, "/places?site=" + "x" * 100_000)[0] == 200
    assert ask(port, "/download/places.csv?site=" + "%27" * 50_000)[0] == 200
    assert ask(port, "/places?site=" + "x" * 1_000_000)[0] in (400, 413, 414, 431)
    assert ask(port, "/readyz")[0] == 200


def test_the_server_names_no_software_and_cuts_broken_requests(port):
    status, headers, _ = ask(port, "/")
    assert status == 200
    assert "Server" not in headers
    with socket.create_connection(("127.0.0.1", port), timeout=20) as raw:
        raw.sendall(b"GET / HTTP/1.1\r\nHost: a\r\nContent-Length: -5\r\n\r\n")
        assert raw.recv(100).startswith(b"HTTP/1.1 400")
    assert ask(port, "/readyz")[0] == 200


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.1", "example.org", ""])
def test_no_other_machine_is_let_in(stores, host):
    with pytest.raises(ValueError, match="no accounts"):
        serve.listening(stores["full"], host, 0)


def test_a_taken_port_is_an_error_of_the_call(stores, port):
    with pytest.raises(OSError, match=r"in use"):
        serve.listening(stores["full"], "127.0.0.1", int(port))
