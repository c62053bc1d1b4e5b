"""What the page of one place says in words: sentence, whereabouts, next step, cautions."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboard import parts, units, words
from dashboard.parts.matrix import kind_href
from dashboard.queries.edition import Row


def register_line(place: Row) -> html.P:
    """Return where the place is and what the hose sees there."""
    facts: list[Any] = []
    if place["site"] or place["line"]:
        text = " · ".join(filter(None, (place["site"], place["line"])))
        facts.append(parts.link(text, "/places", site=place["site"], line=place["line"]))
    facts.append(place["application_class"])
    if place["dn"] is not None:
        facts.append(f"DN {place['dn']:,.0f}")
    for column, unit, pattern in (
        ("pressure_bar", "bar", "{}"), ("temperature_c", "degC", "{}"),
        ("live_length_mm", "mm", "{} long"), ("bend_radius_mm", "mm", "bend radius {}"),
    ):  # fmt: skip
        if place[column] is not None:
            facts.append(pattern.format(units.text(place[column], unit)))
    facts.append(place["medium"])
    line: list[Any] = []
    for fact in filter(None, facts):
        line += [" · ", html.Span(fact)] if line else [html.Span(fact)]
    return html.P([*line, *parts.hazards(place["hazards"])], className="lead")


def sentence(place: Row, retired: bool) -> html.H1:
    """Return how fast the place goes through hoses, and what the hose now faces."""
    name = parts.strong(place["service_point"])
    if len(place["service_point"]) > parts.LONG_NAME:
        name.className = "long"
    if retired:
        return parts.headline(name, f" was retired on {words.date(place['retired_on'])}.")
    if not place["n_lives"]:
        return parts.headline(name, " has had no hose yet.")
    return parts.headline(name, *_rate(place), ". ", *_hose_now(place))


def _rate(place: Row) -> list[Any]:
    """Return how fast against like places, with its range."""
    rate, lower, upper = (place[f"relative_rate{end}"] for end in ("", "_lower", "_upper"))
    if rate is None or not place["n_peers"]:
        return [" has no like place to be compared with"]
    peers = words.count(place["n_peers"], "like place")
    span = words.kept(words.spread(lower, upper))
    if place["is_failure_prone"]:
        fast = parts.strong(f"{words.number(rate)} times as fast", attention=True)
        return [" goes through hoses ", fast, f" as {peers} ({span})"]
    if upper is not None and upper < 1:
        return [" goes through hoses ", parts.strong("more slowly"),
                f" than {peers}: {words.number(rate)} times as fast ({span})"]  # fmt: skip
    return [f" goes through hoses about as fast as {peers} ({words.number(rate)} times, {span})"]


def _hose_now(place: Row) -> list[Any]:
    """Return age and chance of the hose in service."""
    if place["hose_id"] is None:
        return ["No hose is in service here now."]
    age = words.days(place["age_days"])
    chance = place["failure_probability_90_days"]
    if chance is None:
        return [f"The hose now in service is {age} old; too little is known for a chance."]
    span = words.kept(words.percent_spread(
        place["failure_probability_90_days_lower"], place["failure_probability_90_days_upper"]
    ))
    return [f"The hose now in service, {age} old, has a ", parts.strong(words.percent(chance)),
            f" chance ({span}) of failing within 90 days."]  # fmt: skip


def context(place: Row) -> html.P:
    """Return the quiet line: construction, counts, vibration as registered."""
    vibration = None
    if place["vibration_mm_s_rms"] is not None:
        vibration = f"vibration {units.text(place['vibration_mm_s_rms'], 'mm/s rms')}"
        if place["vibration_hz"] is not None:
            vibration += f" at {place['vibration_hz']:g} Hz"
    return parts.context_line(
        _kind(place) if place["hose_id"] is not None else None,
        words.evidence(place["n_failures"] or 0, place["n_suspensions"] or 0),
        f"rank {place['rank']:,} by expected cost" if place["expected_cost"] is not None else None,
        vibration,
        f"records from {words.date(place['records_from'])}" if place["records_from"] else None,
    )  # fmt: skip


def _kind(place: Row) -> html.Span:
    """Return the construction of the hose now in service, with the way to the lives of its kind."""
    name = place["construction"] or "unknown"
    link = dcc.Link(name, href=kind_href(place["application_class"], name))
    return html.Span(["Construction ", link, f" since {words.date(place['installed_on'])}"])


def line_links(near: Row) -> html.Nav | None:
    """Return the way to the previous and the next place on the line."""
    if not near or near["n_on_line"] < 2:
        return None
    items: list[Any] = []
    if near["previous_place"]:
        items.append(html.Span(["Previous: ", parts.place_link(near["previous_place"])]))
    items.append(html.Span(f"{near['number']} of {near['n_on_line']} on this line"))
    if near["next_place"]:
        items.append(html.Span(["Next: ", parts.place_link(near["next_place"])]))
    return html.Nav(items, className="line-links", **{"aria-label": "Places on the same line"})


def next_steps(place: Row, currency: str) -> html.Ul:
    """Return what to do next with its reason, and the cost at stake."""
    items = [[html.B(place["next_step"] or "Nothing to do"), ": ",
              place["next_step_reason"] or "no figure can be given here"]]
    cost = place["expected_cost"]
    if cost is None:
        items.append([html.Span(words.NO_COST[0].upper() + words.NO_COST[1:] + ".")])
    else:
        lower, upper = (words.money(place[f"expected_cost_{end}"], currency)
                        for end in ("lower", "upper"))
        items.append([f"Failures here are expected to cost {words.money(cost, currency)} in the "
                      f"coming year ({lower} to {upper}); one failure "
                      f"{words.money(place['cost_per_failure'], currency)}, lost production "
                      f"included where known, {place['cost_origin']}{cost_days(place)}."])
        items += [[said] for said in standing(place, currency)]
    return html.Ul([html.Li(item) for item in items], className="list")  # fmt: skip


def standing(place: Row, currency: str) -> list[str]:
    """Return how surely a place is among the ten dearest, and how far from like places.

    Examples
    --------
    >>> chance, excess = (said.replace(words.SPACE, " ") for said in standing(
    ...     {"probability_worst_ten": 0.97, "excess_cost": 2324.0, "n_peers": 103}, "GBP"))
    >>> chance
    'A chance of 97 % to be among the ten dearest places.'
    >>> excess
    '£ 2,320 of it is more than the middle one of its class would cost (103 like places).'
    >>> standing({"probability_worst_ten": 0.0, "excess_cost": -3.0, "n_peers": 1}, "GBP")
    []
    """
    said = []
    if place["probability_worst_ten"]:
        chance = words.percent(min(place["probability_worst_ten"], words.MOST_SURE))
        said.append(f"A chance of {chance} to be among the ten dearest places.")
    if (place["excess_cost"] or 0) > 0 and place["n_peers"]:
        said.append(f"{words.money(place['excess_cost'], currency)} of it is more than the middle "
                    f"one of its class would cost ({words.count(place['n_peers'], 'like place')}).")
    return said


def cost_days(place: Row) -> str:
    """Return of which days the costs are behind the cost of a failure.

    Examples
    --------
    >>> from datetime import date
    >>> first, last = date(2014, 3, 2), date(2026, 9, 30)
    >>> cost_days({"cost_origin": "recorded here", "cost_first_on": first, "cost_last_on": last})
    ', from costs of 2014 to 2026 as they were then'
    >>> cost_days({"cost_origin": "register", "cost_first_on": last, "cost_last_on": last}).replace(
    ...     words.SPACE, " ")
    ' at the price of 30 Sep 2026'
    >>> cost_days({"cost_origin": "unknown", "cost_first_on": None, "cost_last_on": None})
    ''
    """
    first, last = place["cost_first_on"], place["cost_last_on"]
    if first is None:
        return ""
    if place["cost_origin"] == "register":
        return f" at the price of {words.date(last)}"
    years = f"{first.year} to {last.year}" if first.year < last.year else f"{last.year}"
    return f", from costs of {years} as they were then"


def uncounted(n: int) -> str:
    """Return how many failures of a place stand in no rate, and why.

    Examples
    --------
    >>> uncounted(0), uncounted(1)
    ('', ' 1 failure is in no rate: before the records began, or its age is not known.')
    """
    if not n:
        return ""
    return (f" {words.count(n, 'failure')} {'is' if n == 1 else 'are'} in no rate: before the "
            f"records began, or {'its' if n == 1 else 'their'} age is not known.")


def cautions(place: Row) -> list[html.P]:
    """Return the cautions that belong to this place."""
    out = []
    known = [h for h in place["hazards"] or [] if h in words.HAZARD_SHOWN]
    if known:
        lead, text = words.CAUTION_HAZARD
        out.append(parts.caution(lead.format(hazards=", ".join(known)), text))
    return [*out, parts.caution(*words.CAUTION_PLACE)]
