"""The plain pages of the door: sign in, set a password, keep the accounts."""

from __future__ import annotations

import hmac
import secrets
from typing import Any
from urllib.parse import urlsplit

import flask
import flask_login
from werkzeug.exceptions import Forbidden

from dashboard import theme, words
from dashboard.accounts import done, forwarded, marks, who
from etl.account import book, keep, passwords, sessions
from etl.errors import BraidlifeError, StoreError

pages = flask.Blueprint("accounts", __name__, template_folder="templates")
LONGEST_FORM = 20_000
N_AUDIT = 200
BEFORE = ("sign_in.html", "invitation.html")
"""Pages whose forms are sent before anybody has signed in."""
MEANING = {"viewer": "reads", "recorder": "reads and enters",
           "keeper": "reads, enters, loads files and keeps the accounts"}
STALE = "This page was open for too long, or this browser keeps no cookies. Try again."
OFF = "This store has no accounts. The first keeper is made on the command line."


@pages.before_request
def check_form() -> None:
    """Refuse forms that another site sends, and large ones."""
    flask.request.max_content_length = LONGEST_FORM
    if flask.request.method == "POST":
        origin = urlsplit(flask.request.headers.get("Origin", ""))
        if origin.netloc != flask.request.host:
            raise Forbidden("this form was sent by another site")


def _stale() -> str:
    """Return what is wrong with a form that comes before a sign-in; nothing where it is ours."""
    if not who.has_accounts():
        return OFF
    return "" if marks.is_own_form(flask.request.form.get("token", "")) else STALE


def _show(page: str, status: int = 200, **more: Any) -> flask.Response:
    """Return a page of the door; every text in it is escaped."""
    if "form" not in flask.session and who.account() is not None:
        flask.session["form"] = secrets.token_urlsafe(32)
    answer = flask.Response(status=status)
    is_before = page in BEFORE and who.has_accounts()
    token = marks.form_token(answer) if is_before else flask.session.get("form", "")
    answer.set_data(flask.render_template(
        page, product=words.PRODUCT, style=theme.style_variables(), account=who.account(),
        token=token, shortest=passwords.SHORTEST, **more))
    return answer


def own_way(given: str) -> str:
    """Return an address of ours to go on to; anything else leads to the first page.

    Examples
    --------
    >>> own_way("/places?text=a"), own_way("//evil.example"), own_way("https://evil.example/")
    ('/places?text=a', '/', '/')
    """
    plain = given.isprintable() and "\\" not in given
    return given if plain and given.startswith("/") and not given.startswith("//") else "/"


@pages.get("/sign-in")
def sign_in_page() -> Any:
    """Ask for name and password."""
    if who.account() is not None:
        return flask.redirect("/")
    return _show("sign_in.html", problem="" if who.has_accounts() else OFF, name="",
                 next=own_way(flask.request.args.get("next", "/")))


@pages.post("/sign-in")
def sign_in() -> Any:
    """Sign in, or say that it does not fit."""
    name, way = flask.request.form.get("name", ""), own_way(flask.request.form.get("next", "/"))
    if problem := _stale():
        return _show("sign_in.html", 403, problem=problem, name=name, next=way)
    try:
        account, token = sessions.sign_in(
            who.store(), name, flask.request.form.get("password", ""), forwarded.client(),
            marks.known(name))
    except BraidlifeError as exc:
        return _show("sign_in.html", _status(exc, 401), problem=str(exc), name=name, next=way)
    return _begin(who.User(account, token), way)


def _status(exc: BraidlifeError, other: int) -> int:
    """Return the status of a refusal: of too many, of a store that takes nothing, or another."""
    return 429 if isinstance(exc, sessions.TooManyError) else (
        503 if isinstance(exc, StoreError) else other)


def _begin(user: who.User, way: str) -> Any:
    """Give the browser a new cookie, of which nothing earlier stays, and send it on."""
    flask.session.clear()
    flask_login.login_user(user)
    answer = flask.redirect(way, 303)
    marks.remember(answer, user.account.name)
    return answer


@pages.post("/sign-out")
def sign_out() -> Any:
    """End this session on the server and in the browser."""
    user = flask_login.current_user
    if isinstance(user, who.User) and user.token:
        sessions.end(who.store(), user.token, user.account.name)
    flask_login.logout_user()
    flask.session.clear()
    return flask.redirect("/sign-in", 303)


@pages.get("/invitation/<token>")
def invitation(token: str) -> Any:
    """Ask for the password of an account that a link is for."""
    try:
        return _show("invitation.html", invited=keep.invited(who.store(), token), problem="")
    except BraidlifeError as exc:
        return _show("invitation.html", 410, invited=None, problem=str(exc))


@pages.post("/invitation/<token>")
def accept(token: str) -> Any:
    """Use a link, once."""
    given = flask.request.form.get("password", "")
    try:
        invited = keep.invited(who.store(), token)
    except BraidlifeError as exc:
        return _show("invitation.html", 410, invited=None, problem=str(exc))
    if problem := _stale():
        return _show("invitation.html", 403, invited=invited, problem=problem)
    try:
        account = keep.accept(who.store(), token, given)
    except BraidlifeError as exc:
        return _show("invitation.html", _status(exc, 422), invited=invited, problem=str(exc))
    return _begin(who.User(account, sessions.begin(who.store(), account.name,
                                                   forwarded.client())), "/")


@pages.get("/accounts")
def accounts() -> Any:
    """Show all accounts and what was done last."""
    return _accounts()


def _accounts(problem: str = "", link: str = "", status: int = 200) -> flask.Response:
    listed = keep.accounts(who.store()) if who.has_accounts() else []
    return _show("accounts.html", status, listed=listed, roles=book.ROLES, meaning=MEANING,
                 problem=problem if who.has_accounts() else OFF, link=link,
                 hours=round(keep.LINK_HOURS), done=done.lines(N_AUDIT), kept=done.MONTHS)


@pages.post("/accounts")
def change() -> Any:
    """Invite, change a role, end sessions or remove; the answer shows the accounts as they are."""
    account = who.account()
    if account is None:
        raise Forbidden(OFF)
    form, folder, by = flask.request.form, who.store(), account.name
    if not hmac.compare_digest(form.get("token", "").encode("utf-8", "replace"),
                               str(flask.session.get("form") or secrets.token_hex()).encode()):
        return _accounts("This page is from before you signed in. Try again.", status=403)
    name, role, link = form.get("name", ""), form.get("role", ""), ""
    try:
        match form.get("do"):
            case "invite":
                token = keep.invite(folder, name, role, by)
                link = f"{flask.request.host_url}invitation/{token}"
            case "role":
                keep.change_role(folder, name, role, by)
            case "end":
                sessions.end_all(folder, name, by)
            case "remove":
                keep.remove(folder, name, by)
            case _:
                return _accounts("There is no such button.", status=422)
    except BraidlifeError as exc:
        return _accounts(str(exc), status=_status(exc, 422))
    if link:
        return _accounts(link=link)  # shown once; going back to the page does not show it again
    return flask.redirect("/accounts", 303)
