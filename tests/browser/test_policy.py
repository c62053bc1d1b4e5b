"""What a real browser refuses on our pages, and what it keeps of a sign-in."""

import pytest

from etl.account import keep, passwords
from tests.browser.conftest import served, visit_to
from tests.dashboard.edition_maker import make_edition

PASSWORD = "copper kettle on the roof"
PATHS = ("/", "/places/HD-1%20discharge", "/physics", "/trials/T-1", "/teardown", "/start")
TRIED = """async () => {
    window.ran = []; window.stopped = [];
    document.addEventListener("securitypolicyviolation",
                              event => window.stopped.push(event.effectiveDirective));
    const script = document.createElement("script");
    script.textContent = "window.ran.push('inline script')";
    document.head.append(script);
    const far = document.createElement("script");
    far.src = "http://127.0.0.1:9/far.js";
    document.head.append(far);
    document.body.insertAdjacentHTML("beforeend",
        "<img src='/none.png' onerror=\\"window.ran.push('handler')\\">" +
        "<img src='http://127.0.0.1:9/far.png'>" +
        "<a href=\\"javascript:window.ran.push('link')\\" id='bad'>x</a>" +
        "<form action='http://127.0.0.1:9/' method='post' id='away'></form>" +
        "<object data='/places'></object><base href='http://127.0.0.1:9/'>");
    document.getElementById("bad").click();
    document.getElementById("away").submit();
    setTimeout("window.ran.push('text as code')", 0);
    try { await fetch("http://127.0.0.1:9/"); window.ran.push("fetch"); } catch (fault) {}
    for (let turn = 0; turn < 60 && new Set(window.stopped).size < 8; turn++) {
        await new Promise(done => setTimeout(done, 100));
    }
    return [window.ran, [...new Set(window.stopped)].sort()];
}"""
STOPPED = {"base-uri", "connect-src", "form-action", "img-src", "object-src", "script-src",
           "script-src-attr", "script-src-elem"}


@pytest.mark.browser
@pytest.mark.parametrize("path", PATHS)
def test_nothing_from_elsewhere_and_no_text_is_run(visit, path):
    visit.open(path)
    visit.check()  # the page itself is stopped in nothing
    ran, stopped = visit.page.evaluate(TRIED)
    assert ran == []
    assert set(stopped) == STOPPED
    assert visit.page.url.startswith(visit.address)


@pytest.mark.browser
def test_no_other_page_puts_ours_in_a_frame(visit, invented):
    visit.page.set_content(f"<iframe src='{invented}/places'></iframe>")
    visit.page.wait_for_timeout(800)
    (frame,) = visit.page.frames[1:]
    assert frame.query_selector("nav, .page") is None
    assert any("frame" in fault for fault in visit.faults)


@pytest.mark.browser
def test_a_browser_keeps_a_sign_in_from_scripts_and_other_sites(chromium, tmp_path, monkeypatch):
    monkeypatch.setattr(passwords, "HASHER", passwords.argon2.PasswordHasher(1, 8, 1))
    make_edition(tmp_path, "full")
    keep.add(tmp_path, "Bo", "keeper", PASSWORD)
    keep.add(tmp_path, "Ann", "viewer", PASSWORD)
    with served(tmp_path) as address:
        visit = visit_to(chromium, address)
        visit.page.goto(address + "/trials/T-1")
        visit.page.get_by_label("Name").fill("Ann")
        visit.page.get_by_label("Password").fill(PASSWORD)
        visit.page.keyboard.press("Enter")
        visit.settled()
        cookies = {cookie["name"]: cookie for cookie in visit.page.context.cookies()}
        assert "braidlife-session" in cookies
        for cookie in cookies.values():
            assert cookie["httpOnly"], cookie
            assert cookie["sameSite"] in ("Lax", "Strict"), cookie
        assert visit.page.evaluate("document.cookie") == ""
        assert not visit.page.get_by_role("button", name="Keep the decision").count()  # a viewer
        visit.page.context.close()
