"""What the search box of the shell finds."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask

FOUND = """
with hits as (
    select 1 as kind_no, 'place' as kind, service_point as name, null as site,
        coalesce(application_class, '') as detail
    from service_points where contains(lower(service_point), lower($text))
    union all
    select distinct 2, 'line', line, site, coalesce(site, '')
    from service_points where contains(lower(concat_ws(' ', site, line)), lower($text))
    union all
    select 3, 'hose', hose_id, null, arg_max(service_point, (installed_on, service_point))
    from lives where contains(lower(hose_id), lower($text)) group by hose_id
    union all
    select distinct 4, 'part', part_number, null, coalesce(construction, '')
    from spares where contains(lower(part_number), lower($text))
),

numbered as (
    select *, row_number() over (
        partition by kind order by starts_with(lower(name), lower($text)) desc, name, site
    ) as place_in_kind
    from hits where name is not null
)

select kind, name, site, detail from numbered where place_in_kind <= $most
order by kind_no, place_in_kind
"""


def found(text: str, most: int = 7) -> list[Row]:
    """Return places, lines, hoses and parts whose name holds the text, a few of each kind."""
    return ask(FOUND, {"text": text, "most": most})
