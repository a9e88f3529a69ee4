"""The running page opened to the network, attacked over real sockets: whom it takes a request to be for and from."""

import pytest

from security.listening import ask, cookie_of, enter, host, listening, origin, send

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    with listening(tmp_path_factory.mktemp("page")) as running:
        yield running


@pytest.fixture(scope="module")
def cookie(bench):
    return cookie_of(enter(bench, code=bench.code))


def test_a_host_header_that_is_not_exactly_ours_is_refused_at_both_addresses(bench):
    port = bench.network[1]
    refused = [
        [],
        ["Host: rebound.example"],
        [f"Host: rebound.example:{port}"],
        ["Host: localhost"],
        [f"Host: localhost.:{port}"],
        [f"Host: 127.0.0.1:0{port}"],
        [f"Host: user@127.0.0.1:{port}"],
        [f"Host: 127.0.0.1:{port}, rebound.example"],
        [f"Host: [0:0:0:0:0:0:0:1]:{port}"],
        [f"Host: 2130706433:{port}"],
        [f"Host: 127.0.0.1:{port}", f"Host: 127.0.0.1:{port}"],
        [f"Host: 127.0.0.1:{port}", "Host: rebound.example"],
        [f"Host: rebound.example:{port}", f"X-Forwarded-Host: 127.0.0.1:{port}"],
    ]
    for headers in refused:
        for address in (bench.loopback, bench.network):
            assert ask(address, "/", *headers).status == 421, headers
            # The target may be a whole address (RFC 9112, 3.2.2): it is the header that counts here.
            assert ask(address, f"http://127.0.0.1:{port}/", *headers).status == 421, headers
    for malformed in (f"Host : 127.0.0.1:{port}", f"Host: 127.0.0.1:{port}\0", f"Host:\r\n 127.0.0.1:{port}"):
        assert ask(bench.loopback, "/", malformed).status == 400


def test_under_its_own_names_the_page_is_open_here_and_asks_there(bench):
    port = bench.network[1]
    for name in (f"127.0.0.1:{port}", f"LocalHost:{port}", f"[::1]:{port}"):
        assert ask(bench.loopback, "/", f"Host: {name}").status == 200
        assert ask(bench.network, "/", f"Host: {name}").status == 401
    assert ask(bench.loopback, "/", host(bench.network)).status == 401
    for claim in ("X-Forwarded-For: 127.0.0.1", "Forwarded: for=127.0.0.1", "X-Real-IP: 127.0.0.1"):
        assert ask(bench.network, "/", host(bench.network), claim).status == 401
        assert ask(bench.loopback, "/", host(bench.loopback), claim).status == 401


@pytest.mark.parametrize("method", ["POST", "DELETE", "OPTIONS"])
def test_nothing_is_changed_without_the_pages_own_origin_not_even_by_one_let_in(bench, cookie, method):
    there = bench.network
    foreign = (
        [],
        ["Origin: null"],
        ["Origin: http://evil.example"],
        [f"Origin: http://{there[0]}"],
        [f"Origin: https://{there[0]}:{there[1]}"],
        [origin(there), "Origin: http://evil.example"],
    )
    for headers in foreign:
        assert ask(there, "/leave", host(there), cookie, *headers, method=method).status == 403, headers
        assert ask(bench.loopback, "/leave", host(bench.loopback), *headers, method=method).status == 403
    assert ask(there, "/history", host(there), cookie).status == 200


PATHS = [
    "/static/../server.py",
    "/static/%2e%2e/server.py",
    "/static/..%2fserver.py",
    "/static/%252e%252e%252fserver.py",
    "/static/..\\server.py",
    "/static/..%5cserver.py",
    "/static//etc/passwd",
    "/static/%2fetc%2fpasswd",
    "/static/style.css%00.js",
    "//etc/passwd",
    "/job/../../../etc/passwd",
    "/job/..%2f..%2fetc%2fpasswd",
    "/job/%2fetc%2fpasswd",
    "/history/..%2f..%2fetc%2fpasswd/report.pdf",
    "/history/%2fetc%2fpasswd/report.pdf",
    "/history/-1/report.pdf",
    "/history/99999999999999999999999999/report.pdf",
    "/history/1e3/report.pdf",
    "/_nicegui/{version}/static/%2e%2e/nicegui.py",
    "/_nicegui/{version}/resources/any/%2e%2e/%2e%2e/nicegui.py",
    "/_nicegui/{version}/esm/any/..%2f..%2fnicegui.py",
    "/_nicegui/{version}/components/..%2fnicegui.py",
    "/_nicegui/{version}/libraries/%2fetc%2fpasswd",
    "/docs",
    "/openapi.json",
]


def test_no_path_leads_out_of_what_is_served_nor_past_the_code(bench, cookie):
    from nicegui import __version__

    there = bench.network
    for path in (path.replace("{version}", __version__) for path in PATHS):
        assert ask(there, path, host(there)).status == 401, path
        answer = ask(there, path, host(there), cookie)
        assert answer.status in (400, 403, 404, 422), path
        for inside in ("root:x:", "from nicegui import", "def "):
            assert inside not in answer.body, path


def test_there_is_nowhere_to_put_a_file(bench, cookie):
    there = bench.network
    for path in ("/", "/history", "/job/job.json", "/static/style.css", "/upload", "/_nicegui/client/x/upload/1"):
        for method in ("POST", "PUT", "PATCH", "DELETE"):
            answer = ask(there, path, host(there), origin(there), cookie, method=method, body="file=1")
            assert answer.status in (404, 405), (method, path)


def test_a_right_code_opens_by_post_of_the_form_only(bench):
    there = bench.network
    for target in (f"/enter?code={bench.code}", f"/?code={bench.code}", f"/{bench.code}"):
        answer = ask(there, target, host(there))
        assert answer.header("set-cookie") == ""
        assert answer.status in (200, 401)
    for method in ("PUT", "PATCH", "DELETE"):
        answer = ask(there, "/enter", host(there), origin(there), method=method, body=f"code={bench.code}")
        assert answer.header("set-cookie") == ""


def test_a_session_is_new_at_every_entry_and_a_planted_one_never_opens(bench):
    there = bench.network
    name = cookie_of(enter(bench, code=bench.code)).partition("=")[0].removeprefix("Cookie: ")
    planted = f"Cookie: {name}={'0' * 64}"
    form = f"code={bench.code}"
    given = ask(there, "/enter", host(there), origin(there), planted, method="POST", body=form)
    set_cookie = given.header("set-cookie")
    assert "0" * 64 not in set_cookie
    assert ask(there, "/history", host(there), planted).status == 401
    parts = {part.strip().lower() for part in set_cookie.split(";")[1:]}
    assert {"httponly", "samesite=strict", "path=/"} <= parts
    assert not [part for part in parts if part.startswith("domain")]


def test_leaving_ends_the_session_for_whoever_kept_its_cookie(bench):
    there = bench.network
    own = cookie_of(enter(bench, code=bench.code))
    assert ask(there, "/history", host(there), own).status == 200
    assert ask(there, "/leave", host(there), origin(there), own, method="POST", body="x=1").status == 303
    assert ask(there, "/history", host(there), own).status == 401


def test_a_cookie_of_another_kind_opens_nothing(bench, cookie):
    there = bench.network
    name, _, value = cookie.removeprefix("Cookie: ").partition("=")
    for given in (f"{name}=", f"{name}={value[:-1]}", f"{name}={value.upper()}", f"{name}={value}0", f"x={value}"):
        assert ask(there, "/history", host(there), f"Cookie: {given}").status == 401
    assert ask(there, "/history", host(there), f"Cookie: {name}={value}").status == 200


def test_a_broken_or_endless_request_is_answered_or_dropped_and_the_page_goes_on(bench):
    there = bench.network
    post = b"POST /enter HTTP/1.1\r\n" + host(there).encode()
    for content in (
        b"\0" * 1000,
        b"GET\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\0" * 200,  # a browser that was told https
        post + b"\r\nContent-Length: -1\r\n\r\n",
        post + b"\r\nContent-Length: 99\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
    ):
        assert send(there, content).status in (400, 403)
    assert ask(bench.loopback, "/", host(bench.loopback)).status == 200
