"""Texts, names and headers that an attack is made of."""

from __future__ import annotations

from tests.dashboard.edition_maker import HOSTILE

METHODS = ("GET", "HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "GE T")
TEXTS = [*HOSTILE, "", " ", "\x00", "\ud800", "\u202e", "A" * 5000, "..", "/", "%2e%2e%2f", "null",
         "__proto__", "constructor", "__class__", "1e400", "-0", "0x10", "true", "2026-02-30",
         "9999999999999999999999", "{}", "[]", "${x}", "%s%n", "\r\nSet-Cookie: a=b",
         "/places/x", "/lives/a/b", "/trials/T", "/teardown/1", "/start", "/spares", "/",
         "a\nb", "HD-1 discharge", "places-grid.getRowsRequest", "shell-search"]
WORDS = ("site", "line", "class", "hazard", "text", "flag", "sort", "group", "construction", "part",
         "tab", "from", "to", "units", "year", "name", "m")
HEADERS = ("Host", "Origin", "Referer", "Cookie", "Range", "If-None-Match", "If-Modified-Since",
           "Accept-Encoding", "Accept-Language", "Content-Type", "Content-Encoding",
           "Sec-Fetch-Site", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Prefix",
           "X-Braidlife-Token", "X-HTTP-Method-Override", "Transfer-Encoding", "Content-Length",
           "Forwarded", "X-Original-URL")
