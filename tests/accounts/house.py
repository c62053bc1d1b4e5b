"""What the tests of accounts share: names, forms, signing in."""

import re

from etl.account import book

PASSWORD = "copper kettle on the roof"
HERE = {"Origin": "http://localhost", "Host": "localhost"}
NAMES = {"viewer": "Vera", "recorder": "Rolf", "keeper": "Käthe <b>K</b>"}
ROLES = (None, *book.ROLES)


def form_of(client, base="http://localhost"):
    """What a browser sends with a form before anybody has signed in."""
    is_secure = base.startswith("https")
    cookie = ("__Host-" if is_secure else "") + "braidlife-form"
    if client.get_cookie(cookie) is None:
        client.get("/invitation/x", base_url=base)
    return {"token": client.get_cookie(cookie).value}


def enter(client, name, password=PASSWORD, address="127.0.0.1", **headers):
    return client.post("/sign-in", data={"name": name, "password": password, **form_of(client)},
                       headers=HERE | headers, environ_base={"REMOTE_ADDR": address})


def post(client, **form):
    shown = client.get("/accounts").get_data(as_text=True)
    token = re.findall(r'name="token" value="([^"]+)"', shown)
    return client.post("/accounts", data={"token": token[0] if token else "", **form},
                       headers=HERE)
