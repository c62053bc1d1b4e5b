"""What the search box of the shell finds."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask

KINDS = ("place", "line", "hose", "part")
BEGINS = {
    "line": "starts_with(lower(name), lower($text))",
    "place": "searched >= lower($text) and searched < lower($text) || chr(1114111)",
}
"""A name that begins with the text. The range lets the database pass over what lies outside it."""
OF_A_KIND = """
(select kind, name, site, detail, name_no, {place} as place from names
where kind = '{kind}' and {condition} order by name_no limit $most)"""


def _of_a_kind(kind: str) -> str:
    """Return the first names of a kind that begin with the text, and the first that hold it."""
    begins = BEGINS.get(kind, BEGINS["place"])
    holds = f"contains(searched, lower($text)) and not ({begins})"
    return " union all ".join(OF_A_KIND.format(kind=kind, place=place, condition=condition)
                              for place, condition in enumerate((begins, holds)))


FOUND = f"""
with hits as ({' union all '.join(map(_of_a_kind, KINDS))}
),

numbered as (
    select *, row_number() over (partition by kind order by place, name_no) as place_in_kind
    from hits
)

select kind, name, site, detail from numbered where place_in_kind <= $most
order by {' , '.join(f"kind = '{kind}' desc" for kind in KINDS)}, place_in_kind
"""
"""Each part ends as soon as it has found enough, since names are stored in their order."""


def found(text: str, most: int = 7) -> list[Row]:
    """Return places, lines, hoses and parts whose name holds the text, a few of each kind."""
    return ask(FOUND, {"text": text, "most": most})
