"""Behind a server with TLS: whom its headers are believed, and which of them."""

from dashboard.app import create_app
from etl import audit
from etl.account import keep, limits
from tests.accounts.house import PASSWORD, enter


def test_a_header_is_believed_of_the_named_server_only(another):
    store, _ = another
    with_header = {"X-Forwarded-User": "Ann"}
    client = create_app(store).server.test_client()

    def status(address, headers):
        return client.get("/accounts", headers=headers,
                          environ_base={"REMOTE_ADDR": address}).status_code

    assert status("192.0.2.1", with_header) == 401  # off by default
    (store / "settings.toml").write_text('proxy_user_header = "X-Forwarded-User"\n')
    assert status("192.0.2.1", with_header) == 401  # no server named
    (store / "settings.toml").write_text(
        'proxy_address = "192.0.2.1"\nproxy_user_header = "X-Forwarded-User"\n')
    assert status("192.0.2.1", with_header) == 200
    assert status("192.0.2.1", {"X-Forwarded-User": "Nobody"}) == 401
    assert status("192.0.2.1", {"X-Forwarded-User": "Ann,Ann"}) == 401
    keep.add(store, "Bo", "viewer", PASSWORD)
    enter(client, "Ann", address="192.0.2.1")  # the server has the last word on who sits there
    assert status("192.0.2.1", {}) == 200
    assert status("192.0.2.1", {"X-Forwarded-User": "bo"}) == 403
    assert status("192.0.2.1", {"X-Forwarded-User": "Nobody"}) == 401
    assert status("192.0.2.1", {"X-Forwarded-User": "ANN"}) == 200
    client = create_app(store).server.test_client()
    for address in ("192.0.2.2", "127.0.0.1"):
        assert status(address, with_header) == 403
        assert status(address, {}) == 401
    assert status("::ffff:192.0.2.1", with_header) == 200


def test_behind_a_server_with_tls_each_browser_counts_for_itself(another, clock):
    store, _ = another
    client = create_app(store).server.test_client()
    (store / "settings.toml").write_text('proxy_address = "192.0.2.1"\n')

    def sign_in(password, **headers):
        return enter(client, "Ann", password, "192.0.2.1",
                     **{name.replace("_", "-"): value for name, value in headers.items()})

    for number in range(limits.ACCOUNT.free):
        # what a browser itself puts there stands before what the server adds
        sign_in("wrong", X_Forwarded_For=f"203.0.113.{number}, 198.51.100.7")
    assert {line["address"] for line in audit.latest(store, limits.ACCOUNT.free)} == {
        "198.51.100.7"}
    assert sign_in(PASSWORD, X_Forwarded_For="198.51.100.7").status_code == 429
    for told in ("unknown", "198.51.100.7:80", "", "<b>", "1.2.3.4, x"):
        assert sign_in(PASSWORD, X_Forwarded_For=told).status_code == (429 if told == "" else 400)
    spoofed = enter(client, "Ann", PASSWORD, "198.51.100.9",
                    **{"X-Forwarded-For": "203.0.113.1"})
    assert spoofed.status_code == 403
    assert enter(client, "Ann", PASSWORD, "198.51.100.9",
                 **{"X-Forwarded-Proto": "https"}).status_code == 403
    clock(60)
    over_tls = create_app(store).server.test_client()
    answer = over_tls.get("/sign-in", headers={"X-Forwarded-Proto": "https", "X-Forwarded-For":
                          "198.51.100.7"}, environ_base={"REMOTE_ADDR": "192.0.2.1"})
    assert answer.headers["Set-Cookie"].startswith("__Host-braidlife-form=")
    (store / "settings.toml").write_text("")
    assert enter(client, "Ann", "wrong", "198.51.100.8", **{"X-Forwarded-For": "203.0.113.1"}
                 ).status_code == 401  # without such a server the header says nothing
    assert audit.latest(store, 1)[0]["address"] == "198.51.100.8"


def test_without_accounts_a_server_before_it_lets_nobody_in(tmp_path):
    (tmp_path / "settings.toml").write_text('proxy_address = "127.0.0.1"\n')
    client = create_app(tmp_path).server.test_client()
    assert client.get("/").status_code == 200
    assert client.get("/", headers={"X-Forwarded-For": "127.0.0.1, 192.0.2.7"}).status_code == 403
